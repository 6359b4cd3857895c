/* discover_legs.c - what flying is asked for, and what the turn tells. */
#include "discover_legs.h"

#include <string.h>

/* What is asked for, and from which part of the time on. About equal legs:
 * long enough to fly, short enough to hold. */
static const struct {
    double from;
    const char *text;
    enum callout_clip clip;
} legs[DISCOVER_LEGS] = {
    {0.0, "Fly straight and level.", CLIP_FLY_STRAIGHT},
    {0.12, "Turn left by 90 degrees or more, 30 degrees of bank.",
     CLIP_TURN_LEFT},
    {0.32,
     "Roll out; then turn right by 90 degrees or more, 30 degrees of "
     "bank.",
     CLIP_TURN_RIGHT},
    {0.55,
     "Roll out; raise the nose 10 degrees and climb until the speed has "
     "fallen by a quarter.",
     CLIP_CLIMB_NOW},
    {0.80, "Turn left in the climb, then level off.", CLIP_TURN_LEFT},
};

enum { LEFT_LEG = 1 };

static double leg_end(int leg)
{
    return leg + 1 < DISCOVER_LEGS ? legs[leg + 1].from : 1.0;
}

bool discover_legs_next(struct discover_legs *all, struct discover_leg *out)
{
    int leg = all->asked;

    if (leg == DISCOVER_LEGS)
        return false;
    out->text = legs[leg].text;
    out->clip = legs[leg].clip;
    out->seconds = (leg_end(leg) - legs[leg].from) * all->seconds;
    all->asked++;
    return true;
}

void discover_legs_keep(struct discover_legs *all,
                        const struct intake_datagram *datagram)
{
    struct discover_turn *turn = all->turn;
    double leg_s = (leg_end(LEFT_LEG) - legs[LEFT_LEG].from) * all->seconds;

    /* The leg that is being flown is the one asked for last. */
    if (all->asked != LEFT_LEG + 1 || turn->count == DISCOVER_TURN_PACKETS ||
        datagram->length > DISCOVER_TURN_BYTES ||
        datagram->t_ns < all->turn_next_ns)
        return;
    all->turn_next_ns =
        datagram->t_ns + (int64_t)(leg_s * 1e9 / DISCOVER_TURN_PACKETS);
    turn->length[turn->count] = datagram->length;
    memcpy(turn->data[turn->count], datagram->data, datagram->length);
    turn->count++;
}

double discover_turn_rad(const struct discover_turn *turn,
                         const struct intake_layout *layout)
{
    double turned_rad = 0.0;
    double last_rad = 0.0;
    bool begun = false;

    for (uint32_t i = 0; i < turn->count; i++) {
        struct intake_sample sample;

        if (intake_decode(layout, turn->data[i], turn->length[i], &sample) !=
                INTAKE_TAKEN ||
            (sample.valid & CHANNEL_BIT(CHANNEL_HEADING)) == 0)
            continue;
        if (begun)
            turned_rad +=
                angle_wrap_half(sample.value[CHANNEL_HEADING] - last_rad);
        last_rad = sample.value[CHANNEL_HEADING];
        begun = true;
    }
    return turned_rad;
}

/* Physics is the same in a mirror: a heading that grows to the left, with a
 * bank that is positive to the left, turns as well as the true ones do. A
 * left turn that was asked for tells them apart. */
bool discover_turn_settle(const struct discover_turn *turn,
                          struct intake_layout *layout)
{
    static const double least_rad = 30.0 * UNITS_RAD_PER_DEG;

    if (discover_turn_rad(turn, layout) < least_rad)
        return false;
    for (uint32_t i = 0; i < layout->packet_count; i++) {
        struct intake_packet *packet = &layout->packet[i];

        for (uint32_t k = 0; k < packet->field_count; k++) {
            struct intake_field *field = &packet->field[k];

            if (field->channel == CHANNEL_HEADING ||
                field->channel == CHANNEL_BANK) {
                field->scale = -field->scale;
                field->offset = -field->offset;
            }
        }
    }
    return true;
}
