/* rehearse.c - a chandelle flown in the performance model, as packets. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>

#include "commands.h"
#include "loop.h"
#include "quarterturn/encode.h"
#include "quarterturn/error.h"
#include "quarterturn/log.h"
#include "recording.h"
#include "rehearse_form.h"
#include "rehearse_send.h"
#include "rehearse_truth.h"
#include "rehearse_words.h"
#include "targets.h"

/* What IPv4 and UDP carry (RFC 791, RFC 768). */
enum { MOST_BYTES = 65507 };

/* Enter may come through a terminal or a pipe. */
union enter {
    uv_handle_t handle;
    uv_stream_t stream;
    uv_tty_t tty;
    uv_pipe_t pipe;
};

struct rehearsal {
    struct settings settings;
    struct rehearse_choice choice;
    struct rehearse_plan plan;
    struct rehearse flight;
    struct intake_encoder encoder;
    enum rehearse_phase said; /* phase last printed */
    bool quiet;
    uint64_t sent; /* moments */
    int status;
    char why[SETTINGS_PATH_SIZE + 128];
    uint8_t bytes[MOST_BYTES];
    /* into a recording */
    struct intake_recorder *recorder;
    int64_t epoch_ns;
    /* over the network */
    uv_loop_t loop;
    uv_timer_t timer;
    uv_signal_t interrupt;
    struct rehearse_send send;
    uint64_t start_ns; /* of the flight's clock at this pace */
    union enter enter;
    bool held; /* waiting for Enter */
    bool hold_done;
    bool has_enter;
};

/* ---- one moment --------------------------------------------------------- */

static void write_datagram(struct rehearsal *rehearsal, double t_s,
                           size_t length)
{
    if (rehearsal->recorder == NULL)
        rehearse_send(&rehearsal->send, rehearsal->bytes, length);
    else if (intake_recorder_write(rehearsal->recorder,
                                   rehearsal->epoch_ns + (int64_t)(t_s * 1e9),
                                   NULL, rehearsal->bytes, length) < 0)
        rehearsal->status = EXIT_COULD_NOT;
}

static void send_moment(struct rehearsal *rehearsal, double t_s)
{
    struct intake_encoder *encoder = &rehearsal->encoder;
    struct intake_sample sample;

    rehearse_sample(&rehearsal->flight, t_s, &sample);
    if (rehearsal->held)
        sample.value[CHANNEL_PAUSED] = 1.0;
    for (uint32_t i = 0; i < intake_encoder_datagrams(encoder); i++) {
        int length = intake_encoder_put(encoder, i, &sample, rehearsal->bytes,
                                        sizeof rehearsal->bytes);

        if (length > 0)
            write_datagram(rehearsal, t_s, (size_t)length);
    }
}

/* Without "-0". */
static double tidy(double value, double step)
{
    return round(value / step) * step + 0.0;
}

static void say_phase(struct rehearsal *rehearsal)
{
    const struct rehearse *flight = &rehearsal->flight;

    if (flight->phase == rehearsal->said || rehearsal->quiet)
        return;
    rehearsal->said = flight->phase;
    (void)printf("%6.1f s  %-11s %5.1f kt, pitch %4.1f, bank %3.0f, turned "
                 "%3.0f deg\n",
                 flight->state.t_s, rehearse_phase_name(flight->phase),
                 units_kt(flight->view.cas_mps),
                 tidy(units_deg(flight->state.pitch_rad), 0.1),
                 tidy(units_deg(flight->state.bank_rad), 1.0),
                 tidy(units_deg(flight->turn_rad), 1.0));
}

/* Fly on to the next moment and send it.
 * Returns: false when the flight is over. */
static bool next_moment(struct rehearsal *rehearsal)
{
    double t_s = (double)rehearsal->sent / rehearsal->choice.rate_hz;

    rehearse_fly(&rehearsal->flight, t_s);
    say_phase(rehearsal);
    if (rehearsal->flight.phase == REHEARSE_OVER)
        return false;
    send_moment(rehearsal, t_s);
    rehearsal->sent++;
    return true;
}

/* ---- into a recording --------------------------------------------------- */

static int64_t read_epoch_ns(void)
{
    uv_timeval64_t now;

    (void)uv_gettimeofday(&now);
    return now.tv_sec * UNITS_NS_PER_S + now.tv_usec * INT64_C(1000);
}

static void run_recording(struct rehearsal *rehearsal)
{
    int why;

    if (recording_set_aside(rehearsal->choice.record, rehearsal->why,
                            sizeof rehearsal->why) < 0 ||
        intake_recorder_open(rehearsal->choice.record, rehearsal->settings.port,
                             &rehearsal->recorder, rehearsal->why,
                             sizeof rehearsal->why) < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", rehearsal->why);
        rehearsal->status = EXIT_COULD_NOT;
        return;
    }
    rehearsal->epoch_ns = read_epoch_ns();
    while (rehearsal->status == 0 && next_moment(rehearsal))
        ;
    why = errno;
    if (intake_recorder_close(rehearsal->recorder, rehearsal->status == 0) <
        0) {
        why = errno;
        rehearsal->status = EXIT_COULD_NOT;
    }
    if (rehearsal->status != 0)
        log_line(LOG_LEVEL_ERROR, "%s: cannot be written: %s",
                 rehearsal->choice.record, strerror(why));
}

/* ---- over the network --------------------------------------------------- */

static void stop(struct rehearsal *rehearsal)
{
    uv_close((uv_handle_t *)&rehearsal->timer, NULL);
    uv_close((uv_handle_t *)&rehearsal->interrupt, NULL);
    rehearse_send_close(&rehearsal->send);
    if (rehearsal->has_enter)
        uv_close(&rehearsal->enter.handle, NULL);
    rehearsal->has_enter = false;
}

static void give_buffer(uv_handle_t *handle, size_t wanted, uv_buf_t *out)
{
    static char line[256];

    (void)handle;
    (void)wanted;
    *out = uv_buf_init(line, sizeof line);
}

/* Enter, or the end of the input: time goes on. */
static void on_enter(uv_stream_t *stream, ssize_t length,
                     const uv_buf_t *buffer)
{
    struct rehearsal *rehearsal = stream->data;

    if (length == 0 ||
        (length > 0 && memchr(buffer->base, '\n', (size_t)length) == NULL))
        return;
    (void)uv_read_stop(stream);
    rehearsal->held = false;
    rehearsal->start_ns =
        uv_hrtime() -
        (uint64_t)((double)rehearsal->sent / rehearsal->choice.rate_hz /
                   rehearsal->choice.speed * 1e9);
}

static void hold(struct rehearsal *rehearsal)
{
    rehearsal->hold_done = true;
    rehearsal->held = true;
    (void)printf("held at %.0f degrees of turn: Enter flies on\n",
                 units_deg(rehearsal->flight.turn_rad));
    if (uv_read_start(&rehearsal->enter.stream, give_buffer, on_enter) != 0)
        rehearsal->held = false;
}

static void on_timer(uv_timer_t *timer)
{
    struct rehearsal *rehearsal = timer->data;
    double period_s = 1.0 / rehearsal->choice.rate_hz;
    double speed = rehearsal->choice.speed;
    double now_s = (double)(uv_hrtime() - rehearsal->start_ns) * 1e-9 * speed;
    double wait_s;

    if (rehearsal->held) {
        /* Still sent, or the signal would be lost. */
        send_moment(rehearsal, (double)(rehearsal->sent - 1) * period_s);
        (void)uv_timer_start(timer, on_timer,
                             (uint64_t)fmax(period_s * 1e3, 1.0), 0);
        return;
    }
    while ((double)rehearsal->sent * period_s <= now_s && !rehearsal->held) {
        if (!next_moment(rehearsal)) {
            stop(rehearsal);
            return;
        }
        if (rehearsal->has_enter && !rehearsal->hold_done &&
            rehearsal->flight.turn_rad >= units_rad(rehearsal->choice.hold_at))
            hold(rehearsal);
    }
    wait_s = ((double)rehearsal->sent * period_s - now_s) / speed;
    (void)uv_timer_start(timer, on_timer,
                         (uint64_t)fmax(ceil(wait_s * 1e3), 1.0), 0);
}

static void on_interrupt(uv_signal_t *handle, int number)
{
    struct rehearsal *rehearsal = handle->data;

    (void)number;
    rehearsal->status = EXIT_COULD_NOT;
    log_line(LOG_LEVEL_NOTE, "interrupted");
    stop(rehearsal);
}

/* What Enter comes through; without one there is no holding. */
static int open_enter(struct rehearsal *rehearsal)
{
    uv_handle_type type = uv_guess_handle(0);
    int error = UV_EINVAL;

    if (type == UV_TTY)
        error = uv_tty_init(&rehearsal->loop, &rehearsal->enter.tty, 0, 1);
    else if (type == UV_NAMED_PIPE)
        error = uv_pipe_init(&rehearsal->loop, &rehearsal->enter.pipe, 0);
    rehearsal->has_enter = error == 0;
    if (error == 0 && type == UV_NAMED_PIPE)
        error = uv_pipe_open(&rehearsal->enter.pipe, 0);
    rehearsal->enter.handle.data = rehearsal;
    if (error == 0)
        return 0;
    log_line(LOG_LEVEL_ERROR, "rehearse: --hold-at needs a terminal or a pipe "
                              "on standard input");
    return EXIT_WRONG_USAGE;
}

static void run_network(struct rehearsal *rehearsal)
{
    uv_timer_t *const timers[] = {&rehearsal->timer, NULL};
    uv_signal_t *const signals[] = {&rehearsal->interrupt, NULL};
    const struct loop_handles handles = {timers, signals};

    rehearsal->status = loop_begin(&rehearsal->loop, &handles, rehearsal);
    if (rehearsal->status != 0)
        return;
    rehearse_send_begin(&rehearsal->send, &rehearsal->loop);
    if (rehearsal->choice.hold_at > 0.0)
        rehearsal->status = open_enter(rehearsal);
    if (rehearsal->status == 0) {
        (void)uv_signal_start(&rehearsal->interrupt, on_interrupt, SIGINT);
        (void)uv_timer_start(&rehearsal->timer, on_timer, 0, 0);
        rehearsal->start_ns = uv_hrtime();
    } else {
        stop(rehearsal);
    }
    (void)uv_run(&rehearsal->loop, UV_RUN_DEFAULT);
    (void)uv_loop_close(&rehearsal->loop);
    rehearse_send_tell(&rehearsal->send);
}

/* ---- the command -------------------------------------------------------- */

static int check_plan(const struct rehearse_plan *plan)
{
    double least_kg;

    if (!performance_takes_weight(&plan->aircraft, plan->conditions.weight_kg,
                                  &least_kg)) {
        log_line(LOG_LEVEL_ERROR,
                 "rehearse: --weight takes %.0f to %.0f lb with this airplane",
                 units_from_internal(UNIT_LB, least_kg),
                 units_from_internal(UNIT_LB, plan->aircraft.max_weight_kg));
        return EXIT_WRONG_USAGE;
    }
    if (plan->ground_m >= plan->conditions.altitude_m) {
        log_line(LOG_LEVEL_ERROR,
                 "rehearse: --ground %.0f ft is not below the entry at %.0f ft",
                 units_ft(plan->ground_m),
                 units_ft(plan->conditions.altitude_m));
        return EXIT_WRONG_USAGE;
    }
    return 0;
}

static int check_choice(struct rehearsal *rehearsal)
{
    const struct rehearse_choice *choice = &rehearsal->choice;
    const struct targets_named target[TARGETS_MOST] = {
        {"--record", choice->record}, {"--truth", choice->truth}};

    if (!targets_differ("rehearse", NULL, target))
        return EXIT_WRONG_USAGE;
    if (choice->record == NULL && choice->speed == 0.0) {
        log_line(LOG_LEVEL_ERROR,
                 "rehearse: --speed max is for --record; a stream is sent at "
                 "up to 100 times real time");
        return EXIT_WRONG_USAGE;
    }
    if (choice->record != NULL && choice->hold_at > 0.0) {
        log_line(LOG_LEVEL_ERROR, "rehearse: a recording cannot be held: "
                                  "--hold-at is for sending");
        return EXIT_WRONG_USAGE;
    }
    /* Standard output is for the one thing that was asked for. */
    if (targets_is_output(choice->truth))
        rehearsal->quiet = true;
    /* Who hears a stream in time lapse takes two seconds to find its pace
     * out, and arms only then. */
    if (choice->record == NULL && choice->speed > 1.0)
        rehearsal->plan.lead_in_s *= choice->speed;
    if (choice->port >= 0.0)
        rehearsal->settings.port = (uint16_t)choice->port;
    if (!targets_may_write(choice->record, choice->force) ||
        !targets_may_write(choice->truth, choice->force))
        return EXIT_COULD_NOT;
    return choice->record != NULL
               ? 0
               : rehearse_send_to(&rehearsal->send, choice->address,
                                  rehearsal->settings.port);
}

static void print_plan(const struct rehearsal *rehearsal)
{
    rehearse_words_tell(&rehearsal->plan);
    if (rehearsal->choice.record == NULL)
        (void)printf("%g packet%s a second, layout %s, to %s port %u\n",
                     rehearsal->choice.rate_hz,
                     rehearsal->choice.rate_hz == 1.0 ? "" : "s",
                     rehearsal->settings.layout.name, rehearsal->choice.address,
                     rehearsal->settings.port);
}

/* Whether the first moment can be written; all are of about its length. */
static int check_layout(struct rehearsal *rehearsal)
{
    const struct intake_layout *layout = &rehearsal->settings.layout;
    struct intake_encoder encoder;
    struct intake_sample sample;

    intake_encoder_init(&encoder, layout);
    rehearse_sample(&rehearsal->flight, 0.0, &sample);
    for (uint32_t i = 0; i < intake_encoder_datagrams(&encoder); i++) {
        if (intake_encoder_put(&encoder, i, &sample, rehearsal->bytes,
                               sizeof rehearsal->bytes) >= 0)
            continue;
        log_line(LOG_LEVEL_ERROR,
                 "rehearse: a packet of layout \"%s\" does not fit a datagram, "
                 "which takes %d bytes",
                 layout->name, MOST_BYTES);
        return EXIT_WRONG_USAGE;
    }
    return 0;
}

static int fly(struct rehearsal *rehearsal)
{
    if (rehearse_begin(&rehearsal->flight, &rehearsal->plan, rehearsal->why,
                       sizeof rehearsal->why) != 0) {
        log_line(LOG_LEVEL_ERROR, "rehearse: %s", rehearsal->why);
        return EXIT_WRONG_USAGE;
    }
    if (check_layout(rehearsal) != 0)
        return EXIT_WRONG_USAGE;
    intake_encoder_init(&rehearsal->encoder, &rehearsal->settings.layout);
    if (!rehearsal->quiet) {
        print_plan(rehearsal);
        rehearse_form_tell(
            &rehearsal->settings.layout, &rehearsal->plan,
            rehearsal->choice.record != NULL ? 1.0 : rehearsal->choice.speed);
    }
    rehearsal->said = REHEARSE_OVER;
    if (rehearsal->choice.record != NULL)
        run_recording(rehearsal);
    else
        run_network(rehearsal);
    if (rehearsal->status != 0)
        return rehearsal->status;
    if (!rehearsal->quiet)
        rehearse_truth_print(&rehearsal->flight);
    if (rehearsal->choice.truth != NULL &&
        rehearse_truth_write(rehearsal->choice.truth, &rehearsal->flight) < 0) {
        log_line(LOG_LEVEL_ERROR, "%s: cannot be written: %s",
                 rehearsal->choice.truth, strerror(errno));
        return EXIT_COULD_NOT;
    }
    return 0;
}

int command_rehearse(int argc, char **argv,
                     const struct command_context *context)
{
    struct rehearsal *rehearsal = calloc(1, sizeof *rehearsal);
    int status = 0;

    if (rehearsal == NULL) {
        log_line(LOG_LEVEL_ERROR, "out of memory");
        return EXIT_COULD_NOT;
    }
    if (settings_load(&context->choice, context->data_folder,
                      &rehearsal->settings, rehearsal->why,
                      sizeof rehearsal->why) < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", rehearsal->why);
        status = EXIT_WRONG_USAGE;
    }
    rehearsal->quiet = context->quiet;
    rehearsal->choice = (struct rehearse_choice){
        .address = "127.0.0.1", .port = -1.0, .rate_hz = 30.0, .speed = 1.0};
    rehearse_plan_init(&rehearsal->plan, &rehearsal->settings.aircraft);
    rehearsal->plan.level_bank_rad =
        rehearsal->settings.standard.level_bank_rad;
    if (status == 0)
        status = rehearse_words_read(argc, argv, &rehearsal->choice,
                                     &rehearsal->plan);
    if (status == 0 && rehearsal->choice.list) {
        rehearse_words_list();
    } else if (status == 0) {
        status = check_plan(&rehearsal->plan);
        if (status == 0)
            status = check_choice(rehearsal);
        if (status == 0)
            status = fly(rehearsal);
    }
    free(rehearsal);
    return status;
}
