/* test_settings_network.c - who may send, which groups are joined and on
 * which interface: what is read, and what is refused with its place.
 *
 * Addresses are those set apart for documentation: RFC 5737 (IPv4), RFC 3849
 * (IPv6), RFC 6676 (multicast); prefixes are written as in RFC 4632,
 * section 3.1, and RFC 4291, section 2.3. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "folder.h"
#include "quarterturn/error.h"
#include "quarterturn/settings.h"

static const char accepted_prefix[] =
    "accepted: a numeric address such as 192.0.2.7, or a prefix such as "
    "192.0.2.0/24 or 2001:db8::/32";
static const char accepted_group[] =
    "accepted: a numeric multicast address, from 224.0.0.0 to "
    "239.255.255.255 or beginning with ff";

static int load(const struct folder *folder, const char *text,
                struct settings *out, char why[512])
{
    char path[FOLDER_PATH_SIZE];
    struct settings_choice choice = {.config = path};

    why[0] = '\0';
    folder_write(folder, "my.conf", text, strlen(text), path);
    return settings_load(&choice, ".", out, why, 512);
}

static void load_good(const struct folder *folder, const char *text,
                      struct settings *out)
{
    char why[512];

    if (load(folder, text, out, why) != 0)
        fail_msg("%s\nsaid of: %s", why, text);
}

/* The one line that is said, whole: its place, the option as it was written,
 * and what is accepted. */
static void expect_refusal(const struct folder *folder, const char *text,
                           const char *place, const char *words)
{
    struct settings settings;
    char path[FOLDER_PATH_SIZE];
    char whole[1024];
    char why[512];

    assert_int_equal(load(folder, text, &settings, why), ERR_USAGE);
    folder_path(folder, "my.conf", path);
    (void)snprintf(whole, sizeof whole, "%s:%s: %s", path, place, words);
    assert_string_equal(why, whole);
}

/* ---- allow -------------------------------------------------------------- */

static void expect_prefix(const struct intake_prefix *prefix, bool ipv6,
                          uint32_t bits, const uint8_t first[4])
{
    assert_int_equal(prefix->ipv6, ipv6);
    assert_int_equal(prefix->bits, bits);
    assert_memory_equal(prefix->address, first, 4);
}

static void lets_everybody_send_when_nobody_is_named(void **state)
{
    struct settings settings;

    load_good(*state, "network { port = 4000 }\n", &settings);
    assert_int_equal(settings.allow.count, 0);
    assert_int_equal(settings.group_count, 0);
}

static void reads_addresses_and_prefixes_of_both_families(void **state)
{
    static const uint8_t ipv4[4] = {192, 0, 2, 7};
    static const uint8_t network[4] = {198, 51, 100, 0};
    static const uint8_t ipv6[4] = {0x20, 0x01, 0x0d, 0xb8};
    struct settings settings;

    load_good(*state,
              "network {\n  allow = {\"192.0.2.7\", \"198.51.100.0/24\",\n"
              "    \"2001:db8::7\", \"2001:db8::/32\"}\n}\n",
              &settings);
    assert_int_equal(settings.allow.count, 4);
    expect_prefix(&settings.allow.prefix[0], false, 32, ipv4);
    expect_prefix(&settings.allow.prefix[1], false, 24, network);
    expect_prefix(&settings.allow.prefix[2], true, 128, ipv6);
    assert_int_equal(settings.allow.prefix[2].address[15], 7);
    expect_prefix(&settings.allow.prefix[3], true, 32, ipv6);
}

static void reads_one_address_without_braces(void **state)
{
    static const uint8_t ipv4[4] = {203, 0, 113, 9};
    struct settings settings;

    load_good(*state, "network { allow = \"203.0.113.9\" }\n", &settings);
    assert_int_equal(settings.allow.count, 1);
    expect_prefix(&settings.allow.prefix[0], false, 32, ipv4);
}

/* Only all-zero bytes fit behind every prefix length. */
static void reads_every_prefix_length(void **state)
{
    static const uint8_t zero[4];

    for (uint32_t bits = 0; bits <= 128; bits++) {
        struct settings settings;
        char text[128];

        (void)snprintf(text, sizeof text,
                       "network { allow = {\"::/%u\", \"0.0.0.0/%u\"} }\n",
                       bits, bits <= 32 ? bits : 0);
        load_good(*state, text, &settings);
        assert_int_equal(settings.allow.count, 2);
        expect_prefix(&settings.allow.prefix[0], true, bits, zero);
        expect_prefix(&settings.allow.prefix[1], false, bits <= 32 ? bits : 0,
                      zero);
    }
}

/* A list of so many addresses, each on a line of its own from line 2 on. */
static void write_list(char *text, size_t size, const char *option, int count,
                       const char *front)
{
    int used = snprintf(text, size, "network { %s = {", option);

    for (int i = 0; i < count; i++)
        used += snprintf(text + used, size - (size_t)used, "%s\n\"%s%d\"",
                         i > 0 ? "," : "", front, i + 1);
    used += snprintf(text + used, size - (size_t)used, "} }\n");
    assert_in_range(used, 1, size - 1);
}

static void takes_sixteen_senders_and_no_more(void **state)
{
    struct settings settings;
    char text[1024];

    write_list(text, sizeof text, "allow", 16, "192.0.2.");
    load_good(*state, text, &settings);
    assert_int_equal(settings.allow.count, 16);
    for (int i = 0; i < 16; i++)
        assert_int_equal(settings.allow.prefix[i].address[3], i + 1);
    write_list(text, sizeof text, "allow", 17, "192.0.2.");
    expect_refusal(*state, text, "18:1", "allow: more than 16 addresses");
}

static void refuses_what_is_no_address_of_a_sender(void **state)
{
    static const char *const bad[] = {
        "",
        " ",
        "localhost",
        "sender.example",
        "192.0.2",
        "192.0.2.256",
        "192.0.2.7 ",
        "192.0.2.7:4000",
        "2001:db8:::7",
        "2001:db8::g",
        "1:2:3:4:5:6:7:8:9",
        "*",
        "fe80::1%eth0",
        "fe80::%eth0/64",
        "fe80::/64%eth0",
        /* longer than any address */
        "2001:0db8:0000:0000:0000:0000:0000:0000:0000:0000:0000:0000:0000:0007",
    };

    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        char text[256];
        char words[512];

        (void)snprintf(text, sizeof text,
                       "network {\n  port = 4000\n  allow = {\"192.0.2.7\",\n"
                       "    \"%s\"}\n}\n",
                       bad[i]);
        (void)snprintf(words, sizeof words, "allow = \"%s\" cannot be used; %s",
                       bad[i], accepted_prefix);
        expect_refusal(*state, text, "4:5", words);
    }
}

static void refuses_prefix_lengths_that_do_not_fit(void **state)
{
    static const char *const bad[] = {
        "192.0.2.0/33",
        "0.0.0.0/128",
        "::/129",
        "192.0.2.0/",
        "192.0.2.0/-1",
        "192.0.2.0/+24",
        "192.0.2.0/ 24",
        "192.0.2.0/24x",
        "192.0.2.0/24/8",
        "192.0.2.0/255.255.255.0",
        "::/18446744073709551616",
        "/24",
        "localhost/8",
        /* bits behind the prefix: which of the two was meant? */
        "192.0.2.7/24",
        "2001:db8::7/32",
    };

    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        char text[256];
        char words[512];

        (void)snprintf(text, sizeof text, "network {\n\n  allow = \"%s\"\n}\n",
                       bad[i]);
        (void)snprintf(words, sizeof words, "allow = \"%s\" cannot be used; %s",
                       bad[i], accepted_prefix);
        expect_refusal(*state, text, "3:3", words);
    }
}

/* ---- group and interface ------------------------------------------------ */

static void reads_groups_and_the_interface(void **state)
{
    struct settings settings;

    load_good(*state,
              "network {\n  group = {\"233.252.0.1\", \"224.0.0.0\",\n"
              "    \"239.255.255.255\"}\n  interface = \"192.0.2.5\"\n}\n",
              &settings);
    assert_int_equal(settings.group_count, 3);
    assert_string_equal(settings.group[0].address, "233.252.0.1");
    assert_string_equal(settings.group[2].address, "239.255.255.255");
    for (int i = 0; i < 3; i++)
        assert_string_equal(settings.group[i].interface, "192.0.2.5");
    load_good(
        *state,
        "network { group = \"ff05::db8:0:7\" interface = \"fe80::1%eth0\" }\n",
        &settings);
    assert_int_equal(settings.group_count, 1);
    assert_string_equal(settings.group[0].address, "ff05::db8:0:7");
    assert_string_equal(settings.group[0].interface, "fe80::1%eth0");
}

static void leaves_the_interface_to_the_system(void **state)
{
    static const char *const text[] = {
        "network { group = {\"233.252.0.1\", \"ff05::db8:0:7\"} }\n",
        "network { group = {\"233.252.0.1\", \"ff05::db8:0:7\"} interface = "
        "\"\" }\n",
    };

    for (int i = 0; i < 2; i++) {
        struct settings settings;

        load_good(*state, text[i], &settings);
        assert_int_equal(settings.group_count, 2);
        assert_string_equal(settings.group[0].interface, "");
        assert_string_equal(settings.group[1].interface, "");
    }
}

static void takes_eight_groups_and_no_more(void **state)
{
    struct settings settings;
    char text[1024];

    write_list(text, sizeof text, "group", 8, "233.252.0.");
    load_good(*state, text, &settings);
    assert_int_equal(settings.group_count, 8);
    assert_string_equal(settings.group[7].address, "233.252.0.8");
    write_list(text, sizeof text, "group", 9, "233.252.0.");
    expect_refusal(*state, text, "10:1", "group: more than 8 groups");
}

/* Source: RFC 5771, section 3 (224.0.0.0 to 239.255.255.255); RFC 4291,
 * section 2.7 (ff00::/8). */
static void refuses_what_is_no_group(void **state)
{
    static const char *const bad[] = {
        "",
        "192.0.2.7",
        "223.255.255.255",
        "240.0.0.0",
        "255.255.255.255",
        "fe80::1",
        "2001:db8::7",
        "233.252.0.0/24",
        "233.252.0",
        "group.example",
        /* longer than any address */
        "ff15:0000:0000:0000:0000:0000:0000:0000:0000:0000:0000:0000:0000:0007",
    };

    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        char text[256];
        char words[512];

        (void)snprintf(text, sizeof text,
                       "network {\n  group = {\n    \"233.252.0.1\",\n"
                       "    \"ff05::db8:0:7\",\n    \"%s\"}\n}\n",
                       bad[i]);
        (void)snprintf(words, sizeof words, "group = \"%s\" cannot be used; %s",
                       bad[i], accepted_group);
        expect_refusal(*state, text, "5:5", words);
    }
}

static void refuses_an_interface_that_does_not_suit_the_group(void **state)
{
    static const struct {
        const char *group;
        const char *interface;
    } bad[] = {
        {"233.252.0.1", "2001:db8::5"},  {"233.252.0.1", "fe80::1%eth0"},
        {"233.252.0.1", "eth0"},         {"233.252.0.1", "192.0.2"},
        {"233.252.0.1", "192.0.2.0/24"}, {"ff05::db8:0:7", "192.0.2.5"},
        {"ff05::db8:0:7", "eth0"},       {"ff05::db8:0:7", "2001:db8::5"},
        {"ff05::db8:0:7", "fe80::1%"},   {"ff05::db8:0:7", "fe80:::1%eth0"},
    };

    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        char text[256];
        char words[512];

        (void)snprintf(text, sizeof text,
                       "network {\n  group = \"%s\"\n\n  interface = \"%s\"\n"
                       "}\n",
                       bad[i].group, bad[i].interface);
        (void)snprintf(words, sizeof words,
                       "interface = \"%s\" cannot be used for group %s; %s",
                       bad[i].interface, bad[i].group,
                       bad[i].group[0] == 'f'
                           ? "accepted: an IPv6 address with the interface's "
                             "name behind it, such as fe80::1%eth0"
                           : "accepted: a numeric IPv4 address of this "
                             "machine, such as 192.0.2.5");
        expect_refusal(*state, text, "4:3", words);
    }
}

/* One interface cannot suit groups of both families. */
static void names_the_group_that_the_interface_does_not_suit(void **state)
{
    expect_refusal(
        *state,
        "network {\n  interface = \"192.0.2.5\"\n"
        "  group = {\"233.252.0.1\",\n  \"ff05::db8:0:7\"}\n}\n",
        "2:3",
        "interface = \"192.0.2.5\" cannot be used for group "
        "ff05::db8:0:7; accepted: an IPv6 address with the interface's "
        "name behind it, such as fe80::1%eth0");
}

static void refuses_an_interface_that_is_too_long(void **state)
{
    char name[INTAKE_ADDRESS_TEXT + 1];
    char text[256];

    memset(name, 'x', sizeof name);
    name[INTAKE_ADDRESS_TEXT] = '\0';
    (void)snprintf(
        text, sizeof text,
        "network {\n  group = \"ff05::db8:0:7\"\n  interface = \"%s\"\n}\n",
        name);
    expect_refusal(*state, text, "3:3",
                   "interface is longer than 63 characters");
}

static void refuses_an_interface_without_a_group(void **state)
{
    expect_refusal(*state,
                   "network {\n  port = 4000\n  interface = \"192.0.2.5\"\n}\n",
                   "3:3",
                   "interface = \"192.0.2.5\" counts only for a group, and "
                   "there is none; to listen on one interface, make its "
                   "address the value of address");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(lets_everybody_send_when_nobody_is_named),
        in_folder(refuses_an_interface_without_a_group),
        in_folder(reads_addresses_and_prefixes_of_both_families),
        in_folder(reads_one_address_without_braces),
        in_folder(reads_every_prefix_length),
        in_folder(takes_sixteen_senders_and_no_more),
        in_folder(refuses_what_is_no_address_of_a_sender),
        in_folder(refuses_prefix_lengths_that_do_not_fit),
        in_folder(reads_groups_and_the_interface),
        in_folder(leaves_the_interface_to_the_system),
        in_folder(takes_eight_groups_and_no_more),
        in_folder(refuses_what_is_no_group),
        in_folder(refuses_an_interface_that_does_not_suit_the_group),
        in_folder(names_the_group_that_the_interface_does_not_suit),
        in_folder(refuses_an_interface_that_is_too_long),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
