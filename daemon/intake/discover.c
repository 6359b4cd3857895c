/* discover.c - finding out an unknown layout: what is remembered, and the
 * layout that comes of it. */
#include <stdio.h>
#include <string.h>

#include "discover.h"
#include "quarterturn/error.h"

size_t intake_discovery_size(void)
{
    return sizeof(struct intake_discovery);
}

void intake_discovery_begin(struct intake_discovery *d)
{
    d->datagram_count = 0;
    d->byte_count = 0;
    d->stride = 1;
    d->seen = 0;
    d->series_full = false;
}

/* Spread over the whole range, the same on every machine: every second one
 * would take one kind of two that take turns. */
static uint64_t scatter(uint64_t n)
{
    n *= UINT64_C(0x9e3779b97f4a7c15);
    n ^= n >> 31;
    n *= UINT64_C(0xbf58476d1ce4e5b9);
    return n ^ n >> 27;
}

/* Leave about half of the datagrams. */
static void thin(struct intake_discovery *d)
{
    uint32_t kept = 0;
    uint32_t bytes = 0;

    for (uint32_t i = 0; i < d->datagram_count; i++) {
        struct discover_datagram *datagram = &d->datagram[i];

        if (scatter(d->seen + i) % 2 != 0)
            continue;
        memmove(d->bytes + bytes, d->bytes + datagram->at, datagram->length);
        d->datagram[kept] = *datagram;
        d->datagram[kept].at = bytes;
        bytes += datagram->length;
        kept++;
    }
    d->datagram_count = kept;
    d->byte_count = bytes;
    d->stride *= 2;
}

void intake_discovery_push(struct intake_discovery *d, int64_t t_ns,
                           uint16_t port, const uint8_t *data, size_t length)
{
    if (length == 0 || length > INTAKE_MAX_DATAGRAM)
        return;
    if (scatter(d->seen++) % d->stride != 0)
        return;
    while (d->datagram_count == DISCOVER_DATAGRAMS ||
           d->byte_count + length > DISCOVER_BYTES)
        thin(d);
    memcpy(d->bytes + d->byte_count, data, length);
    d->datagram[d->datagram_count++] = (struct discover_datagram){
        t_ns, d->byte_count, (uint32_t)length, port, 0};
    d->byte_count += (uint32_t)length;
}

/* ---- the layout --------------------------------------------------------- */

static void set_guard(const struct intake_discovery *d, uint32_t kind,
                      struct intake_packet *packet)
{
    const struct discover_kind *from = &d->kind[kind];
    uint32_t first = from->head_length;

    if (d->form.form == INTAKE_FORM_BINARY) {
        packet->size = from->size;
        /* Beginnings are needed only to tell kinds of one size apart; a
         * longer one would be an accident of this flight. */
        first = d->kind_count > 1 && first > 4 ? 4 : first;
        first = d->kind_count > 1 ? first : 0;
    } else if (d->form.form == INTAKE_FORM_RECORDS) {
        first = first > d->form.records_at ? d->form.records_at : first;
    } else {
        first = 0;
    }
    for (uint32_t i = 0; i < d->series_count; i++) {
        const struct discover_place *place = &d->series[i].place;

        if (d->form.form == INTAKE_FORM_BINARY && place->kind == kind &&
            place->at < first)
            first = place->at;
    }
    memcpy(packet->starts_with, from->head, first);
    packet->starts_with_length = first;
}

static void begin_layout(const struct intake_discovery *d,
                         struct intake_layout *layout)
{
    memset(layout, 0, sizeof *layout);
    (void)snprintf(layout->name, sizeof layout->name, "discovered");
    layout->form = d->form.form;
    layout->system = -1;
    layout->packet_count = d->kind_count;
    for (uint32_t k = 0; k < d->kind_count; k++) {
        struct intake_packet *packet = &layout->packet[k];

        if (d->kind_count == 1)
            (void)snprintf(packet->name, sizeof packet->name, "flight");
        else
            (void)snprintf(packet->name, sizeof packet->name, "kind-%u",
                           (unsigned)k + 1);
        packet->separator = d->form.separator;
        packet->assign = d->form.assign;
        packet->decimal_comma = d->form.decimal_comma;
        packet->records_at = d->form.records_at;
        packet->record_size = d->form.record_size;
        packet->key_type = d->form.key_type;
        packet->key_big_endian = d->form.key_big_endian;
        set_guard(d, k, packet);
    }
}

void discover_settle(const struct intake_discovery *d,
                     enum intake_channel channel,
                     const struct discover_reading *reading,
                     struct intake_discovered *out)
{
    const struct discover_place *place = &d->series[reading->series].place;
    struct intake_packet *packet = &out->layout.packet[place->kind];
    struct intake_field *field = &packet->field[packet->field_count++];

    memset(field, 0, sizeof *field);
    field->channel = channel;
    field->unit = reading->unit;
    field->scale = reading->scale;
    field->type = place->type;
    field->big_endian = place->big_endian;
    field->at = place->at;
    field->column = place->column;
    field->key = place->key;
    memcpy(field->name, place->name, sizeof field->name);
    out->found |= CHANNEL_BIT(channel);
}

/* Packets without a field would only be in the way. */
static void drop_empty_packets(struct intake_layout *layout)
{
    uint32_t kept = 0;

    for (uint32_t k = 0; k < layout->packet_count; k++) {
        if (layout->packet[k].field_count > 0)
            layout->packet[kept++] = layout->packet[k];
    }
    layout->packet_count = kept;
}

static void look(struct intake_discovery *d, bool whole_too,
                 struct intake_discovered *out)
{
    d->whole_too = whole_too;
    out->found = 0;
    out->unsure = 0;
    out->ask_count = 0;
    memset(out->finding, 0, sizeof out->finding);
    begin_layout(d, &out->layout);
    discover_search(d);
    discover_judge(d, out);
    out->enough = (out->found & CHANNELS_REQUIRED) == CHANNELS_REQUIRED;
}

int intake_discovery_end(struct intake_discovery *d, uint16_t port,
                         struct intake_discovered *out)
{
    int status;

    memset(out, 0, sizeof *out);
    status = discover_recognise(d, port);
    out->port = d->port;
    out->datagrams = d->datagram_count;
    if (status == ERR_ABSENT)
        return status;
    out->seconds = (double)(d->datagram[d->datagram_count - 1].t_ns -
                            d->datagram[0].t_ns) *
                   1e-9;
    if (discover_standard(d, &out->layout.form)) {
        out->standard = true;
        out->layout.system = -1;
        return 0;
    }
    if (status != 0)
        return status;
    discover_fill(d);
    look(d, false, out);
    /* Bytes read as whole numbers look like something too often to be tried
     * while floats will do. */
    if (!out->enough && (d->form.form == INTAKE_FORM_BINARY ||
                         d->form.form == INTAKE_FORM_RECORDS)) {
        look(d, true, out);
        /* If that settles nothing, what is missing is told better without. */
        if (!out->enough)
            look(d, false, out);
    }
    drop_empty_packets(&out->layout);
    return 0;
}
