/* standard_section.c - the numbers that judge. */
#include <stddef.h>

#include "quarterturn/error.h"
#include "sections.h"

/* Every number is required: none of them shall hide in the program. */
static const struct reader_quantity row_of_option[] = {
    {"ready_time", UNIT_S, true, 0.5, 60.0,
     offsetof(struct maneuver_standard, ready_time_s)},
    {"ready_bank", UNIT_DEG, true, 1.0, 15.0,
     offsetof(struct maneuver_standard, ready_bank_rad)},
    {"ready_climb", UNIT_FT_PER_MIN, true, 50.0, 2000.0,
     offsetof(struct maneuver_standard, ready_climb_mps)},
    {"ready_turn", UNIT_DEG_PER_S, true, 0.1, 5.0,
     offsetof(struct maneuver_standard, ready_turn_radps)},
    {"entry_speed_band", UNIT_KT, true, 1.0, 60.0,
     offsetof(struct maneuver_standard, entry_speed_band_mps)},
    {"entry_excess", UNIT_KT, true, 0.0, 20.0,
     offsetof(struct maneuver_standard, entry_excess_mps)},
    {"least_height", UNIT_FT, true, 0.0, 20000.0,
     offsetof(struct maneuver_standard, least_height_m)},
    {"entry_bank", UNIT_DEG, true, 10.0, 60.0,
     offsetof(struct maneuver_standard, entry_bank_rad)},
    {"bank_tolerance", UNIT_DEG, true, 1.0, 20.0,
     offsetof(struct maneuver_standard, bank_tolerance_rad)},
    {"bank_time", UNIT_S, true, 1.0, 30.0,
     offsetof(struct maneuver_standard, bank_time_s)},
    {"ball_tolerance", UNIT_G, true, 0.01, 0.5,
     offsetof(struct maneuver_standard, ball_tolerance_g)},
    {"slip_tolerance", UNIT_DEG, true, 1.0, 20.0,
     offsetof(struct maneuver_standard, slip_tolerance_rad)},
    {"ball_time", UNIT_S, true, 0.0, 60.0,
     offsetof(struct maneuver_standard, ball_time_s)},
    {"pitch_rise_tolerance", UNIT_DEG, true, 0.5, 15.0,
     offsetof(struct maneuver_standard, pitch_rise_tolerance_rad)},
    {"pitch_peak_tolerance", UNIT_DEG, true, 2.0, 45.0,
     offsetof(struct maneuver_standard, pitch_peak_tolerance_rad)},
    {"pitch_tolerance", UNIT_DEG, true, 0.5, 15.0,
     offsetof(struct maneuver_standard, pitch_tolerance_rad)},
    {"advice_error", UNIT_DEG, true, 2.0, 90.0,
     offsetof(struct maneuver_standard, advice_error_rad)},
    {"roll_out_begin_tolerance", UNIT_DEG, true, 2.0, 45.0,
     offsetof(struct maneuver_standard, roll_out_begin_rad)},
    {"roll_out_tolerance", UNIT_DEG, true, 0.5, 15.0,
     offsetof(struct maneuver_standard, roll_out_tolerance_rad)},
    {"level_bank", UNIT_DEG, true, 1.0, 10.0,
     offsetof(struct maneuver_standard, level_bank_rad)},
    {"level_time", UNIT_S, true, 0.2, 10.0,
     offsetof(struct maneuver_standard, level_time_s)},
    {"heading_tolerance", UNIT_DEG, true, 1.0, 45.0,
     offsetof(struct maneuver_standard, heading_tolerance_rad)},
    {"finish_margin", UNIT_KT, true, 1.0, 60.0,
     offsetof(struct maneuver_standard, finish_margin_mps)},
    {"hold_band", UNIT_FT, true, 10.0, 500.0,
     offsetof(struct maneuver_standard, hold_band_m)},
    {"hold_time", UNIT_S, true, 1.0, 120.0,
     offsetof(struct maneuver_standard, hold_time_s)},
    {"least_gain", UNIT_PERCENT, true, 0.0, 100.0,
     offsetof(struct maneuver_standard, least_gain)},
    {"stall_band_1", UNIT_KT, true, 0.5, 60.0,
     offsetof(struct maneuver_standard, stall_band_mps[0])},
    {"stall_band_2", UNIT_KT, true, 0.5, 60.0,
     offsetof(struct maneuver_standard, stall_band_mps[1])},
    {"stall_band_3", UNIT_KT, true, 0.5, 60.0,
     offsetof(struct maneuver_standard, stall_band_mps[2])},
    {"stall_hysteresis", UNIT_KT, true, 0.1, 10.0,
     offsetof(struct maneuver_standard, stall_hysteresis_mps)},
};

int section_read_standard(cfg_t *section, struct maneuver_standard *out,
                          const struct reader_why *why)
{
    int status = section_read_name(section, out->name, sizeof out->name, why);

    if (status == 0)
        status = reader_quantities(
            section, row_of_option,
            sizeof row_of_option / sizeof row_of_option[0], out, why);
    if (status != 0)
        return status;
    for (unsigned i = 1; i < 3; i++) {
        if (out->stall_band_mps[i] >= out->stall_band_mps[i - 1])
            return reader_fail(why, section, reader_place(section),
                               "stall_band_%u must be below stall_band_%u",
                               i + 1, i);
    }
    if (out->level_bank_rad > out->ready_bank_rad)
        return reader_fail(why, section, reader_place(section),
                           "level_bank must not exceed ready_bank");
    return 0;
}
