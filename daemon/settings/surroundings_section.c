/* surroundings_section.c - network, sound and the timing of calls. */
#include <stdio.h>
#include <string.h>

#include "quarterturn/error.h"
#include "sections.h"

/* Times as they are written; turned into the contracts' members behind. */
struct surroundings {
    double signal_timeout_s;
    double latency_s;
    double calibration_s;
    double gain;
    double rest_s;
    double lead_s;
    double spacing_s;
    double repeat_s;
    double gap_s;
};

static const struct reader_quantity network_rows[] = {
    {"signal_timeout", UNIT_S, false, 0.1, 60.0,
     offsetof(struct surroundings, signal_timeout_s)},
};

static const struct reader_quantity sound_rows[] = {
    {"latency", UNIT_S, false, 0.0, 1.0,
     offsetof(struct surroundings, latency_s)},
    {"calibration", UNIT_S, false, -0.5, 0.5,
     offsetof(struct surroundings, calibration_s)},
    {"gain", UNIT_NONE, false, 0.0, 1.0, offsetof(struct surroundings, gain)},
    {"rest", UNIT_S, false, 0.0, 86400.0,
     offsetof(struct surroundings, rest_s)},
};

static const struct reader_quantity callout_rows[] = {
    {"lead", UNIT_S, false, 0.02, 1.0, offsetof(struct surroundings, lead_s)},
    {"spacing", UNIT_S, false, 0.0, 10.0,
     offsetof(struct surroundings, spacing_s)},
    {"repeat", UNIT_S, false, 0.0, 60.0,
     offsetof(struct surroundings, repeat_s)},
    {"gap", UNIT_S, false, 0.0, 1.0, offsetof(struct surroundings, gap_s)},
};

static int64_t ns_of(double s)
{
    return (int64_t)(s * 1e9 + 0.5);
}

static double s_of(int64_t ns)
{
    return (double)ns * 1e-9;
}

int section_read_name(cfg_t *section, char *out, size_t size,
                      const struct reader_why *why)
{
    const char *title = cfg_title(section);
    size_t length = strlen(title);

    if (length == 0 || length >= size)
        return reader_fail(why, section, reader_place(section),
                           "%s \"%s\": a name has 1 to %zu characters",
                           cfg_name(section), title, size - 1);
    memcpy(out, title, length + 1);
    return 0;
}

int section_find_single(cfg_t *file, const char *name, cfg_t **out,
                        const struct reader_why *why)
{
    *out = NULL;
    if (cfg_size(file, name) > 1) {
        cfg_t *second = cfg_getnsec(file, name, 1);

        return reader_fail(why, second, reader_place(second),
                           "section %s is given twice", name);
    }
    if (cfg_size(file, name) == 1)
        *out = cfg_getnsec(file, name, 0);
    return 0;
}

/* Values of a list, from 0 on; NULL behind the last. */
static const struct reader_value *item_of(cfg_t *section, const char *name,
                                          uint32_t index)
{
    cfg_opt_t *option = cfg_getopt(section, name);

    return index < cfg_opt_size(option) ? cfg_opt_getnptr(option, index) : NULL;
}

static int read_allow(cfg_t *section, struct settings *out,
                      const struct reader_why *why)
{
    const struct reader_value *item;

    for (uint32_t i = 0; (item = item_of(section, "allow", i)) != NULL; i++) {
        if (i == INTAKE_MAX_ALLOWED)
            return reader_fail(why, section, item->at,
                               "allow: more than %d addresses",
                               INTAKE_MAX_ALLOWED);
        if (intake_udp_parse_prefix(item->text, &out->allow.prefix[i]) != 0)
            return reader_fail(why, section, item->at,
                               "allow = \"%s\" cannot be used; accepted: a "
                               "numeric address such as 192.0.2.7, or a "
                               "prefix such as 192.0.2.0/24 or 2001:db8::/32",
                               item->text);
        out->allow.count = i + 1;
    }
    return 0;
}

/* The system is told an IPv4 interface by its address, an IPv6 one by its
 * name; what does not suit the group it would refuse without saying where. */
static bool suits_group(const char *interface, const char *group)
{
    const char *name = strchr(interface, '%');
    bool ipv6 = strchr(group, ':') != NULL;

    if (intake_udp_check_address(interface) != 0 ||
        (strchr(interface, ':') != NULL) != ipv6)
        return false;
    return !ipv6 || (name != NULL && name[1] != '\0');
}

static int read_interface(cfg_t *section, struct intake_group *group,
                          const struct reader_why *why)
{
    int status = reader_text(section, "interface", group->interface,
                             sizeof group->interface, why);

    if (status != 0 || group->interface[0] == '\0' ||
        suits_group(group->interface, group->address))
        return status;
    return reader_fail(why, section, reader_get(section, "interface")->at,
                       "interface = \"%s\" cannot be used for group %s; "
                       "accepted: %s",
                       group->interface, group->address,
                       strchr(group->address, ':') != NULL
                           ? "an IPv6 address with the interface's name "
                             "behind it, such as fe80::1%eth0"
                           : "a numeric IPv4 address of this machine, such as "
                             "192.0.2.5");
}

/* Only groups are joined on an interface. */
static int refuse_lone_interface(cfg_t *section, const struct reader_why *why)
{
    const struct reader_value *interface = reader_get(section, "interface");

    if (interface == NULL || interface->text[0] == '\0' ||
        item_of(section, "group", 0) != NULL)
        return 0;
    return reader_fail(why, section, interface->at,
                       "interface = \"%s\" counts only for a group, and there "
                       "is none; to listen on one interface, make its address "
                       "the value of address",
                       interface->text);
}

static int read_groups(cfg_t *section, struct settings *out,
                       const struct reader_why *why)
{
    const struct reader_value *item;

    for (uint32_t i = 0; (item = item_of(section, "group", i)) != NULL; i++) {
        struct intake_group *group = &out->group[i];

        if (i == INTAKE_MAX_GROUPS)
            return reader_fail(why, section, item->at,
                               "group: more than %d groups", INTAKE_MAX_GROUPS);
        if (strlen(item->text) >= sizeof group->address ||
            intake_udp_check_group(item->text) != 0)
            return reader_fail(why, section, item->at,
                               "group = \"%s\" cannot be used; accepted: a "
                               "numeric multicast address, from 224.0.0.0 to "
                               "239.255.255.255 or beginning with ff",
                               item->text);
        memcpy(group->address, item->text, strlen(item->text) + 1);
        if (read_interface(section, group, why) != 0)
            return ERR_USAGE;
        out->group_count = i + 1;
    }
    return 0;
}

static int read_network(cfg_t *file, struct settings *out,
                        struct surroundings *times,
                        const struct reader_why *why)
{
    static const uint32_t ports[2] = {1, 65535};
    uint32_t port = out->port;
    cfg_t *section;
    int status = section_find_single(file, "network", &section, why);

    if (status != 0 || section == NULL)
        return status;
    status =
        reader_text(section, "address", out->address, sizeof out->address, why);
    if (status == 0 && intake_udp_check_address(out->address) != 0)
        status = reader_fail(why, section, reader_get(section, "address")->at,
                             "address = \"%s\" cannot be used; accepted: a "
                             "numeric IPv4 or IPv6 address such as 127.0.0.1",
                             out->address);
    if (status == 0)
        status = reader_whole(section, "port", ports, &port, why);
    if (status == 0)
        status = reader_quantities(section, network_rows, 1, times, why);
    if (status == 0)
        status = read_allow(section, out, why);
    if (status == 0)
        status = refuse_lone_interface(section, why);
    if (status == 0)
        status = read_groups(section, out, why);
    out->port = (uint16_t)port;
    return status;
}

/* A voice is a folder below sounds/, or any folder when it has a slash; one
 * that is not rooted stands relative to the configuration. */
static int read_voice(cfg_t *section, struct settings *out,
                      const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, "voice");
    const char *slash = strrchr(section->filename, '/');
    size_t size = sizeof out->audio.voice_folder;
    int length;

    if (value == NULL)
        return 0;
    if (strchr(value->text, '/') == NULL)
        length = snprintf(out->audio.voice_folder, size, "%s/sounds/%s",
                          out->data_folder, value->text);
    else if (value->text[0] == '/' || slash == NULL)
        length = snprintf(out->audio.voice_folder, size, "%s", value->text);
    else
        length = snprintf(out->audio.voice_folder, size, "%.*s%s",
                          (int)(slash + 1 - section->filename),
                          section->filename, value->text);
    if (length < 0 || (size_t)length >= size)
        return reader_fail(why, section, value->at,
                           "voice: the path is longer than %zu characters",
                           size - 1);
    return 0;
}

static int read_sound(cfg_t *file, struct settings *out,
                      struct surroundings *times, const struct reader_why *why)
{
    static const uint32_t frames[2] = {32, 8192};
    cfg_t *section;
    int status = section_find_single(file, "sound", &section, why);

    if (status != 0 || section == NULL)
        return status;
    status = read_voice(section, out, why);
    if (status == 0)
        status = reader_text(section, "device", out->audio.device,
                             sizeof out->audio.device, why);
    if (status == 0)
        status = reader_whole(section, "buffer", frames,
                              &out->audio.buffer_frames, why);
    if (status == 0)
        status = reader_quantities(section, sound_rows, 4, times, why);
    return status;
}

static void list_help(char *out, size_t size)
{
    out[0] = '\0';
    for (int i = 0; i < HELP_COUNT; i++)
        reader_list_add(out, size, callout_help_name((enum callout_help)i));
}

static int read_help(cfg_t *section, enum callout_help *out,
                     const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, "help");
    char names[64];

    if (value == NULL || callout_help_find(value->text, out) == 0)
        return 0;
    list_help(names, sizeof names);
    return reader_fail(why, section, value->at,
                       "no amount of help \"%s\"; there is: %s", value->text,
                       names);
}

int section_choose_help(const char *word, enum callout_help *out,
                        const struct reader_why *why)
{
    char names[64];

    if (word == NULL || callout_help_find(word, out) == 0)
        return 0;
    list_help(names, sizeof names);
    (void)snprintf(why->text, why->size,
                   "--help-level %s: no amount of help \"%s\"; there is: %s",
                   word, word, names);
    return ERR_USAGE;
}

static int read_number_style(cfg_t *section, enum callout_numbers *out,
                             const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, "number_style");

    if (value == NULL)
        return 0;
    if (strcmp(value->text, "digits") == 0)
        *out = NUMBERS_DIGITS;
    else if (strcmp(value->text, "grouped") == 0)
        *out = NUMBERS_GROUPED;
    else
        return reader_fail(why, section, value->at,
                           "number_style = \"%s\": accepted: digits, grouped",
                           value->text);
    return 0;
}

static int read_callout(cfg_t *file, struct settings *out,
                        struct surroundings *times,
                        const struct reader_why *why)
{
    cfg_t *section;
    int status = section_find_single(file, "callout", &section, why);

    if (status != 0 || section == NULL)
        return status;
    status = reader_truth(section, "say_ready", &out->callout.say_ready, why);
    if (status == 0)
        status = read_number_style(section, &out->callout.numbers, why);
    if (status == 0)
        status = reader_quantities(section, callout_rows, 4, times, why);
    if (status == 0)
        status = read_help(section, &out->callout.help, why);
    return status;
}

/* A path beside this file, unless it begins at the root; "" stays "". */
static int read_beside(cfg_t *section, const char *name,
                       char out[SETTINGS_PATH_SIZE],
                       const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, name);
    const char *slash = strrchr(section->filename, '/');
    int length;

    if (value == NULL)
        return 0;
    if (value->text[0] == '/' || value->text[0] == '\0' || slash == NULL)
        length = snprintf(out, SETTINGS_PATH_SIZE, "%s", value->text);
    else
        length = snprintf(out, SETTINGS_PATH_SIZE, "%.*s%s",
                          (int)(slash + 1 - section->filename),
                          section->filename, value->text);
    if (length < 0 || length >= SETTINGS_PATH_SIZE)
        return reader_fail(why, section, value->at,
                           "%s: the path is longer than %d characters", name,
                           SETTINGS_PATH_SIZE - 1);
    return 0;
}

static int read_debrief(cfg_t *file, struct settings *out,
                        const struct reader_why *why)
{
    cfg_t *section;
    int status = section_find_single(file, "debrief", &section, why);

    if (status != 0 || section == NULL)
        return status;
    status = read_beside(section, "pages", out->pages_folder, why);
    if (status == 0)
        status = read_beside(section, "logbook", out->logbook, why);
    return status;
}

int section_read_surroundings(cfg_t *file, struct settings *out,
                              const struct reader_why *why)
{
    struct surroundings times = {
        .signal_timeout_s = s_of(out->signal_timeout_ns),
        .latency_s = out->audio.latency_s,
        .calibration_s = out->audio.calibration_s,
        .gain = out->audio.gain,
        .rest_s = s_of(out->rest_ns),
        .lead_s = s_of(out->callout.commit_lead_ns),
        .spacing_s = s_of(out->callout.spacing_ns),
        .repeat_s = s_of(out->callout.repeat_ns),
        .gap_s = s_of(out->callout.clip_gap_ns),
    };
    int status = read_network(file, out, &times, why);

    if (status == 0)
        status = read_sound(file, out, &times, why);
    if (status == 0)
        status = read_callout(file, out, &times, why);
    if (status == 0)
        status = read_debrief(file, out, why);
    out->signal_timeout_ns = ns_of(times.signal_timeout_s);
    out->audio.latency_s = times.latency_s;
    out->audio.calibration_s = times.calibration_s;
    out->audio.gain = times.gain;
    out->rest_ns = ns_of(times.rest_s);
    out->callout.commit_lead_ns = ns_of(times.lead_s);
    out->callout.spacing_ns = ns_of(times.spacing_s);
    out->callout.repeat_ns = ns_of(times.repeat_s);
    out->callout.clip_gap_ns = ns_of(times.gap_s);
    return status;
}
