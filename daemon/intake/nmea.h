/* nmea.h - private to the intake room: which sentence or XDR item of NMEA 0183
 * tells a channel, as decoder and encoder know it. */
#ifndef INTAKE_NMEA_H
#define INTAKE_NMEA_H

#include "quarterturn/layout.h"

/* Whether heading or track counts against magnetic north. */
bool nmea_is_magnetic(const struct intake_layout *layout,
                      enum intake_channel channel);
/* Whether a channel comes from a kind of sentence ("HDT"): what the layout's
 * field names, else the usual one. */
bool nmea_comes_from(const struct intake_layout *layout,
                     enum intake_channel channel, const char *kind);
/* Whether a channel goes by the name of an XDR item. */
bool nmea_is_item(const struct intake_layout *layout,
                  enum intake_channel channel, const char *name, size_t length);
/* The name of an XDR item for a channel: what the layout's field names, else
 * the usual one; NULL when a sentence tells it, or nothing does. */
const char *nmea_item_of(const struct intake_layout *layout,
                         enum intake_channel channel);

#endif
