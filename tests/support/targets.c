/* targets.c - what reads bytes that anybody may have written. */
#include "targets.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../../daemon/audio/table.h"
#include "../../daemon/intake/crc16.h"
#include "folder.h"
#include "promise.h"
#include "quarterturn/control.h"
#include "quarterturn/debrief.h"
#include "quarterturn/error.h"
#include "quarterturn/settings.h"

/* In the order of the seeds' first bytes: new ones go to the end. */
static const char *const layout_name[] = {
    "nmea",         "dis",           "mavlink",    "plain-text",
    "plain-binary", "keyed-records", "name-value", "json-object",
};

enum {
    LAYOUTS = sizeof layout_name / sizeof layout_name[0],
    LAYOUT_NMEA = 0,
    LAYOUT_MAVLINK = 2,
    SEAL_NMEA = LAYOUTS,
    SEAL_MAVLINK,
    CHOICES,
    SEALED_SIZE = 300
};

/* assert would be gone with NDEBUG. */
void promise(bool kept, const char *what)
{
    if (kept)
        return;
    (void)fprintf(stderr, "broken: %s\n", what);
    abort();
}

static const struct intake_layout *ready_layout(size_t which)
{
    static struct settings settings[LAYOUTS];
    static bool loaded[LAYOUTS];
    struct settings_choice choice = {.layout = layout_name[which]};
    char why[512] = "";

    if (!loaded[which] &&
        settings_load(&choice, ".", &settings[which], why, sizeof why) != 0)
        promise(false, why);
    loaded[which] = true;
    return &settings[which].layout;
}

static void check_decode(const struct intake_layout *layout,
                         const uint8_t *data, size_t size)
{
    uint8_t *exact = malloc(size > 0 ? size : 1);
    struct intake_sample sample;
    enum intake_reject reject;

    promise(exact != NULL, "memory");
    if (size > 0)
        memcpy(exact, data, size);
    reject = intake_decode(layout, size > 0 ? exact : NULL, size, &sample);
    free(exact);
    promise(reject >= INTAKE_TAKEN && reject < INTAKE_REJECT_COUNT,
            "a reason that has a name");
    if (reject != INTAKE_TAKEN)
        return;
    promise(sample.valid != 0, "what is taken brings a channel");
    promise((sample.valid & ~intake_layout_channels(layout)) == 0,
            "no channel that the layout does not promise");
    for (unsigned i = 0; i < CHANNEL_COUNT; i++)
        promise((sample.valid >> i & 1) == 0 || isfinite(sample.value[i]),
                "values are finite");
}

static void decode_sealed_nmea(const uint8_t *data, size_t size)
{
    char text[SEALED_SIZE + 8];
    unsigned sum = 0;
    int end;

    if (size > SEALED_SIZE)
        return;
    for (size_t i = 0; i < size; i++)
        sum ^= data[i];
    text[0] = '$';
    memcpy(text + 1, data, size);
    end = snprintf(text + 1 + size, 6, "*%02X\r\n", sum);
    check_decode(ready_layout(LAYOUT_NMEA), (const uint8_t *)text,
                 1 + size + (size_t)end);
}

/* Message definitions of MAVLink: number and what goes into the checksum. */
static void decode_sealed_mavlink(const uint8_t *data, size_t size)
{
    static const struct {
        unsigned id;
        uint8_t extra;
    } kind[] = {{30, 39},  {31, 246}, {33, 104},   {74, 20},
                {105, 93}, {115, 4},  {11020, 205}};
    uint8_t frame[SEALED_SIZE] = {0xfd};
    uint16_t crc;
    size_t which;

    if (size < 1 || size > 256)
        return;
    which = data[0] % (sizeof kind / sizeof kind[0]);
    size--;
    frame[1] = (uint8_t)size;
    frame[5] = frame[6] = 1;
    frame[7] = (uint8_t)kind[which].id;
    frame[8] = (uint8_t)(kind[which].id >> 8);
    memcpy(frame + 10, data + 1, size);
    crc = crc16_add(CRC16_BEGIN, frame + 1, 9 + size);
    crc = crc16_add(crc, &kind[which].extra, 1);
    frame[10 + size] = (uint8_t)crc;
    frame[11 + size] = (uint8_t)(crc >> 8);
    check_decode(ready_layout(LAYOUT_MAVLINK), frame, 12 + size);
}

void target_decode(const uint8_t *data, size_t size)
{
    size_t choice;

    if (size == 0)
        return;
    choice = data[0] % CHOICES;
    if (choice == SEAL_NMEA)
        decode_sealed_nmea(data + 1, size - 1);
    else if (choice == SEAL_MAVLINK)
        decode_sealed_mavlink(data + 1, size - 1);
    else
        check_decode(ready_layout(choice), data + 1, size - 1);
}

/* ---- the control socket ---------------------------------------------------
 */

static void give_status(void *context, struct control_status *out)
{
    (void)context;
    out->version = out->layout = out->aircraft = out->standard = "x";
    out->maneuver = "chandelle";
    out->sender = "";
}

static int obey(void *context, const struct control_command *command,
                char said[CONTROL_SAID_SIZE])
{
    size_t *commands = context;

    ++*commands;
    promise(command->verb >= 0 && command->verb < CONTROL_VERB_COUNT,
            "a verb that has a name");
    promise((command->value != NULL) ==
                (control_verb_value(command->verb) != NULL),
            "a value where one belongs");
    if (command->value != NULL) {
        promise(command->value[0] != '\0', "a value that says something");
        for (const char *c = command->value; *c != '\0'; c++)
            promise((unsigned char)*c >= 0x20, "no control characters");
        (void)snprintf(said, CONTROL_SAID_SIZE, "%s", command->value);
    }
    promise(command->verb != CONTROL_MARK ||
                strlen(command->value) <= CONTROL_MAX_NOTE,
            "a note that fits");
    return 0;
}

void target_control(const uint8_t *data, size_t size)
{
    size_t commands = 0;
    const struct control_handlers handlers = {&commands, give_status, obey};
    char out[CONTROL_MAX_REPLY];
    size_t length;

    if (size >= CONTROL_MAX_LINE)
        return;
    length = control_answer(&handlers, (const char *)data, size, out);
    promise(length > 0 && length < sizeof out && out[length] == '\0' &&
                strlen(out) == length && strchr(out, '\n') == out + length - 1,
            "one line answers");
    promise(commands == 0 || strncmp(out, "{\"ok\":true", 10) == 0,
            "what was done is said");
}

/* ---- files -------------------------------------------------------------- */

static struct folder scratch;

static void remove_scratch(void)
{
    folder_remove(&scratch);
}

static const char *write_scratch(const char *name, const uint8_t *data,
                                 size_t size, char path[FOLDER_PATH_SIZE])
{
    if (scratch.path[0] == '\0') {
        folder_make(&scratch);
        promise(atexit(remove_scratch) == 0, "atexit");
    }
    return folder_write(&scratch, name, data, size, path);
}

void target_capture(const uint8_t *data, size_t size)
{
    struct intake_recording *recording;
    struct intake_datagram datagram;
    char path[FOLDER_PATH_SIZE];
    char why[512] = "";
    volatile uint8_t last;
    int status;

    write_scratch("capture.pcap", data, size, path);
    status = intake_recording_open(path, &recording, why, sizeof why);
    if (status != 0) {
        promise(strncmp(why, path, strlen(path)) == 0, "the path is named");
        return;
    }
    while ((status = intake_recording_next(recording, &datagram, why,
                                           sizeof why)) == 1) {
        promise(datagram.length <= size, "no datagram larger than its file");
        if (datagram.length > 0)
            last = datagram.data[datagram.length - 1];
    }
    (void)last;
    promise(status <= 0, "an end or an error");
    intake_recording_close(recording);
}

void target_settings(const uint8_t *data, size_t size)
{
    struct settings settings;
    struct settings_choice choice = {0};
    char path[FOLDER_PATH_SIZE];
    char why[512] = "";

    if (size == 0)
        return;
    write_scratch("fuzzed.conf", data + 1, size - 1, path);
    if (data[0] % 2 == 0)
        choice.config = path;
    else
        choice.layout = path;
    if (settings_load(&choice, ".", &settings, why, sizeof why) != 0)
        promise(why[0] != '\0' && strchr(why, '\n') == NULL,
                "one line says what is wrong");
}

static void take_finding(void *context, const char *line)
{
    size_t *findings = context;

    ++*findings;
    promise(strncmp(line, scratch.path, strlen(scratch.path)) == 0 &&
                strchr(line, '\n') == NULL,
            "one line names the table");
}

void target_table(const uint8_t *data, size_t size)
{
    struct audio_table table;
    char path[FOLDER_PATH_SIZE];
    size_t findings = 0;
    int status;

    write_scratch("cues.tsv", data, size, path);
    status = audio_table_read(scratch.path, &table, take_finding, &findings);
    promise(status == ERR_ABSENT ? findings == 1
                                 : status >= 0 && findings == (size_t)status,
            "findings are counted");
    for (int i = 0; status != ERR_ABSENT && i < CLIP_COUNT; i++) {
        const struct audio_table_row *row = &table.row[i];
        char full[AUDIO_FULL_PATH];

        promise(row->line > 0 || status > 0, "a missing row is found");
        if (row->line == 0)
            continue;
        promise(memchr(row->text, '\0', sizeof row->text) != NULL &&
                    memchr(row->file, '\0', sizeof row->file) != NULL &&
                    row->file[0] != '\0' && row->file[0] != '.' &&
                    strpbrk(row->file, "/\\:") == NULL,
                "no file outside the voice's folder");
        audio_table_path(&table, (enum callout_clip)i, full);
        promise(strlen(full) == strlen(scratch.path) + 1 + strlen(row->file),
                "paths are whole");
    }
}

void target_notes(const uint8_t *data, size_t size)
{
    static struct debrief_noted note[DEBRIEF_MAX_NOTED];
    char path[FOLDER_PATH_SIZE];
    uint32_t count = 0;
    uint32_t line = 0;
    int status;

    write_scratch("chance.notes.jsonl", data, size, path);
    status = debrief_notes_read(path, note, &count, &line);
    promise(status == 0 || (status == ERR_FORMAT && line > 0),
            "a line that is no note is named");
    promise(count <= DEBRIEF_MAX_NOTED, "as many notes as there is room");
    for (uint32_t i = 0; i < count; i++) {
        promise(note[i].since_ns >= (i > 0 ? note[i - 1].since_ns : 0),
                "notes are in time order");
        promise(memchr(note[i].text, '\0', sizeof note[i].text) != NULL,
                "a note that fits");
    }
}
