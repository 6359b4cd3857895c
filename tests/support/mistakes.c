/* mistakes.c - what is said of wrong configurations. */
#include "mistakes.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "quarterturn/error.h"
#include "quarterturn/settings.h"

static void expect_line(const char *why, const struct folder *folder,
                        const struct mistake *mistake)
{
    char place[FOLDER_PATH_SIZE];

    folder_path(folder, mistake->place, place);
    if (strncmp(why, place, strlen(place)) != 0 ||
        strstr(why, mistake->words) == NULL || strchr(why, '\n') != NULL)
        fail_msg("said \"%s\", not \"%s...%s\"", why, place, mistake->words);
}

void mistakes_expect(const struct folder *folder, const struct mistake *mistake,
                     size_t count)
{
    for (size_t i = 0; i < count; i++) {
        char path[FOLDER_PATH_SIZE];
        struct settings_choice choice = {.config = path};
        struct settings settings;
        char why[512] = "";

        folder_write(folder, "my.conf", mistake[i].text,
                     strlen(mistake[i].text), path);
        assert_int_equal(
            settings_load(&choice, ".", &settings, why, sizeof why), ERR_USAGE);
        expect_line(why, folder, &mistake[i]);
    }
}
