/* session.c - the four pure rooms, wired. */
#include "session.h"

#include <string.h>

void session_init(struct session *session, const struct settings *settings,
                  const struct session_sink *sink)
{
    memset(session, 0, sizeof *session);
    session->settings = settings;
    session->sink = *sink;
    session->now_ns = INT64_MIN;
    session->settled_ns = INT64_MIN;
    flight_time_init(&session->time);
    intake_stream_init(&session->stream, &settings->layout,
                       settings->signal_timeout_ns);
    intake_senders_init(&session->senders, &settings->allow);
    flight_init(&session->flight, &settings->aircraft);
    maneuver_init(&session->maneuver, settings->maneuver, &settings->standard,
                  &settings->aircraft);
    callout_init(&session->callout, &settings->callout);
    debrief_collect_init(&session->collector, &settings->standard,
                         &settings->aircraft, settings->person);
}

static int64_t to_flight_ns(const struct session *session, int64_t t_ns)
{
    return flight_time_of_stream(&session->time, t_ns);
}

static int64_t to_stream_ns(const struct session *session, int64_t flight_ns)
{
    return flight_time_to_stream(&session->time, flight_ns);
}

static void judge_topics(struct session *session,
                         const struct debrief_grade *grade)
{
    for (int i = TOPIC_NONE + 1; i < TOPIC_COUNT; i++) {
        enum callout_topic topic = (enum callout_topic)i;
        enum debrief_verdict verdict = debrief_topic_verdict(grade, topic);

        if (verdict != VERDICT_NOT_JUDGED)
            callout_judge(&session->callout, topic,
                          verdict == VERDICT_IN_STANDARD);
    }
}

static void give_help(struct session *session, int64_t t_ns)
{
    enum callout_help help = session->callout.settings.help;

    if (session->sink.help != NULL && help != HELP_FULL)
        session->sink.help(session->sink.context, t_ns, help,
                           callout_silent_topics(&session->callout));
}

static void give_event(struct session *session, struct maneuver_event *event)
{
    const struct session_sink *sink = &session->sink;
    bool graded = event->kind == EVENT_FINISHED;

    debrief_collect_event(&session->collector, event,
                          maneuver_summary(&session->maneuver));
    event->t_ns = to_stream_ns(session, event->t_ns);
    /* Slow motion has many nanoseconds for one of flight. */
    if (event->t_ns < session->settled_ns)
        event->t_ns = session->settled_ns;
    if (event->t_ns > session->now_ns)
        event->t_ns = session->now_ns;
    if (graded)
        judge_topics(session, &session->collector.attempt.grade);
    if (sink->event != NULL)
        sink->event(sink->context, event,
                    graded ? &session->collector.attempt.grade : NULL);
    if (event->kind == EVENT_ENTRY)
        give_help(session, event->t_ns);
    callout_offer(&session->callout, session->now_ns, event);
    if (graded) {
        const struct debrief_grade *grade = &session->collector.attempt.grade;

        callout_verdict(&session->callout, session->now_ns, event,
                        grade->verdict == VERDICT_IN_STANDARD,
                        debrief_next_cue(grade));
    }
    /* Who stalled is told so, though there is nothing more to grade. */
    if (event->kind == EVENT_ABANDONED && event->reason == REASON_STALLED)
        callout_verdict(&session->callout, session->now_ns, event, false,
                        CUE_COUNT);
}

static void give_events(struct session *session, struct maneuver_event *events,
                        int count)
{
    for (int i = 0; i < count; i++)
        give_event(session, &events[i]);
}

static void give_call(struct session *session, const struct callout_call *call)
{
    debrief_collect_call(&session->collector, call,
                         to_flight_ns(session, call->onset_ns),
                         to_flight_ns(session, call->moment_ns));
    if (session->sink.call != NULL)
        session->sink.call(session->sink.context, call);
}

static void give_tone(struct session *session)
{
    struct callout_tone tone;

    if (callout_take_tone(&session->callout, &tone) &&
        session->sink.tone != NULL)
        session->sink.tone(session->sink.context, &tone);
}

static void give_calls(struct session *session)
{
    struct callout_call calls[CALLOUT_MAX_CALLS];
    uint32_t count;

    do {
        count = callout_advance(&session->callout, session->now_ns, calls);
        for (uint32_t i = 0; i < count; i++)
            give_call(session, &calls[i]);
    } while (count == CALLOUT_MAX_CALLS);
    give_tone(session);
}

/* After the calls: those handed over at its end belong to it. */
static void give_attempt(struct session *session)
{
    const struct debrief_attempt *attempt =
        debrief_collect_take(&session->collector);

    if (attempt != NULL && session->sink.attempt != NULL)
        session->sink.attempt(session->sink.context, attempt);
}

static void give_progress(struct session *session)
{
    int64_t settled_ns =
        to_stream_ns(session, maneuver_settled_ns(&session->maneuver));

    if (settled_ns > session->now_ns)
        settled_ns = session->now_ns;
    if (settled_ns > session->settled_ns)
        session->settled_ns = settled_ns;
    if (session->sink.progress != NULL)
        session->sink.progress(session->sink.context, session->now_ns,
                               session->settled_ns);
}

static void take_notice(struct session *session,
                        const struct intake_notice *notice)
{
    struct maneuver_event events[MANEUVER_MAX_EVENTS];
    struct intake_notice told = *notice;

    if (notice->kind == INTAKE_RESUMED)
        session->resumed = true;
    if (notice->flown_ns < notice->t_ns)
        flight_time_stand(&session->time, notice->flown_ns, notice->t_ns);
    if (notice->kind == INTAKE_JUMPED)
        flight_reset(&session->flight);
    told.t_ns = to_flight_ns(session, notice->t_ns);
    give_events(session, events,
                maneuver_notice(&session->maneuver, &told, events));
}

static void take_sample(struct session *session,
                        const struct intake_sample *sample)
{
    struct maneuver_event events[MANEUVER_MAX_EVENTS];
    struct intake_sample shifted = *sample;
    struct flight_state state;
    struct maneuver_outlook outlook;

    if (sample->pace != flight_time_pace(&session->time))
        flight_time_set_pace(&session->time, sample->t_ns, sample->pace);
    shifted.t_ns = to_flight_ns(session, sample->t_ns);
    /* Without a time of its own, a pause is seen when it has stood for a
     * while: from there no trend leads on. */
    if (session->resumed &&
        (sample->valid & CHANNEL_BIT(CHANNEL_SIM_TIME)) == 0)
        flight_rest(&session->flight);
    session->resumed = false;
    if (flight_update(&session->flight, &shifted, &state) < 0)
        return;
    debrief_collect_state(&session->collector, &state, sample,
                          sample->t_ns + session->unix_offset_ns - state.t_ns);
    give_events(session, events,
                maneuver_step(&session->maneuver, &state, events));
    outlook = *maneuver_outlook(&session->maneuver);
    outlook.now_ns = to_stream_ns(session, outlook.now_ns);
    outlook.ninety_ns = to_stream_ns(session, outlook.ninety_ns);
    outlook.ten_to_go_ns = to_stream_ns(session, outlook.ten_to_go_ns);
    outlook.pitch_limit_ns = to_stream_ns(session, outlook.pitch_limit_ns);
    callout_plan(&session->callout, &outlook);
}

static void take_result(struct session *session,
                        const struct intake_result *result)
{
    for (uint32_t i = 0; i < result->notice_count; i++)
        take_notice(session, &result->notice[i]);
    if (result->has_sample)
        take_sample(session, &result->sample);
    give_calls(session);
    give_attempt(session);
    give_progress(session);
}

/* One instant at which something is due. */
static void advance_to(struct session *session, int64_t t_ns)
{
    struct intake_result result;

    if (t_ns > session->now_ns)
        session->now_ns = t_ns;
    intake_stream_tick(&session->stream, session->now_ns, &result);
    take_result(session, &result);
}

void session_push(struct session *session,
                  const struct intake_datagram *datagram)
{
    struct intake_datagram taken = *datagram;
    struct intake_result result;

    if (taken.t_ns < session->now_ns)
        taken.t_ns = session->now_ns;
    session_advance(session, taken.t_ns);
    session->now_ns = taken.t_ns;
    session->begun = true;
    intake_stream_take(&session->stream, &session->senders, &taken, &result);
    take_result(session, &result);
}

void session_advance(struct session *session, int64_t now_ns)
{
    while (session->begun && session_deadline_ns(session) <= now_ns)
        advance_to(session, session_deadline_ns(session));
}

void session_end(struct session *session)
{
    debrief_collect_end(&session->collector,
                        maneuver_summary(&session->maneuver));
    give_attempt(session);
}

/* ---- what its user asks for --------------------------------------------- */

static void pass_to(struct session *session, int64_t now_ns)
{
    session_advance(session, now_ns);
    if (now_ns > session->now_ns)
        session->now_ns = now_ns;
}

void session_set_help(struct session *session, int64_t now_ns,
                      enum callout_help help)
{
    pass_to(session, now_ns);
    callout_set_help(&session->callout, session->now_ns, help);
    give_tone(session);
}

int session_repeat_call(struct session *session, int64_t now_ns)
{
    int error;

    pass_to(session, now_ns);
    error = callout_repeat(&session->callout, session->now_ns);
    give_calls(session);
    return error;
}

void session_give_up(struct session *session, int64_t now_ns)
{
    struct maneuver_event events[MANEUVER_MAX_EVENTS];

    pass_to(session, now_ns);
    give_events(session, events,
                maneuver_give_up(&session->maneuver,
                                 to_flight_ns(session, session->now_ns),
                                 events));
    give_calls(session);
    give_attempt(session);
}

void session_note(struct session *session, int64_t now_ns, const char *text)
{
    pass_to(session, now_ns);
    /* More notes than an attempt has room for still stand in the events. */
    (void)debrief_collect_note(&session->collector,
                               to_flight_ns(session, session->now_ns), text);
}

void session_change(struct session *session, int64_t now_ns)
{
    const struct settings *settings = session->settings;
    uint32_t attempts = session->maneuver.attempts;

    pass_to(session, now_ns);
    flight_init(&session->flight, &settings->aircraft);
    maneuver_init(&session->maneuver, settings->maneuver, &settings->standard,
                  &settings->aircraft);
    session->maneuver.attempts = attempts;
    debrief_collect_init(&session->collector, &settings->standard,
                         &settings->aircraft, settings->person);
    callout_change(&session->callout, session->now_ns, &settings->callout);
    give_tone(session);
}

bool session_has_signal(const struct session *session)
{
    return session->stream.started && !session->stream.lost;
}

int64_t session_deadline_ns(const struct session *session)
{
    int64_t signal_ns = intake_stream_deadline_ns(&session->stream);
    int64_t call_ns = callout_deadline_ns(&session->callout);

    return signal_ns < call_ns ? signal_ns : call_ns;
}
