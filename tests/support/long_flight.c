/* long_flight.c - recordings of many hours. */
#include "long_flight.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum { SIM_TIME_AT = 4 }; /* in a packet of the layout plain-binary: f64 */

/* Set the simulator's time of a packet on by so much. */
static void put_on(uint8_t *packet, size_t length, int64_t by_ns)
{
    double sim_time_s = 0.0;

    assert_true(length >= SIM_TIME_AT + sizeof sim_time_s);
    memcpy(&sim_time_s, packet + SIM_TIME_AT, sizeof sim_time_s);
    sim_time_s += (double)by_ns / (double)UNITS_NS_PER_S;
    memcpy(packet + SIM_TIME_AT, &sim_time_s, sizeof sim_time_s);
}

size_t long_flight_write(const struct sample_recording *flight,
                         int64_t duration_ns, const char *path)
{
    char why[512] = "";
    struct intake_recorder *file = NULL;
    uint8_t packet[512];
    size_t written = 0;
    const struct sample_datagram *datagram = flight->datagram;
    int64_t interval_ns = datagram[1].t_ns - datagram[0].t_ns;
    int64_t flight_ns =
        datagram[flight->count - 1].t_ns - datagram[0].t_ns + interval_ns;

    assert_int_equal(intake_recorder_open(path, 52180, &file, why, sizeof why),
                     0);
    for (int64_t by_ns = 0;; by_ns += flight_ns) {
        for (size_t i = 0; i < flight->count; i++, written++) {
            int64_t t_ns = datagram[i].t_ns + by_ns;
            if (t_ns - datagram[0].t_ns >= duration_ns) {
                assert_int_equal(intake_recorder_close(file, true), 0);
                return written;
            }
            assert_true(datagram[i].length <= sizeof packet);
            memcpy(packet, flight->bytes + datagram[i].at, datagram[i].length);
            put_on(packet, datagram[i].length, by_ns);
            assert_int_equal(intake_recorder_write(file, t_ns, NULL, packet,
                                                   datagram[i].length),
                             0);
        }
    }
}
