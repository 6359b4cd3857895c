/* test_resident.c - what the loop runs is held in memory. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include "../../daemon/commands/resident.h"
#include "sanitized.h"

/* Of this process, as the system tells it. Source: proc(5). */
static size_t read_locked_bytes(void)
{
    FILE *file = fopen("/proc/self/status", "r");
    char line[256];
    size_t kib = 0;
    bool found = false;

    assert_non_null(file);
    while (!found && fgets(line, sizeof line, file) != NULL) {
        found = strncmp(line, "VmLck:", 6) == 0;
        if (found)
            kib = strtoul(line + 6, NULL, 10);
    }
    assert_int_equal(fclose(file), 0);
    assert_true(found);
    return kib * 1024;
}

/* A line that begins a part, "5581c000-5581d000 r-xp ...", says where it lies.
 */
static void read_part(const char *line, size_t address, bool *inside)
{
    char *dash;
    size_t from = strtoul(line, &dash, 16);

    if (dash != line && *dash == '-')
        *inside = address >= from && address < strtoul(dash + 1, NULL, 16);
}

static bool is_in_a_locked_part(size_t address)
{
    FILE *file = fopen("/proc/self/smaps", "r");
    char line[512];
    bool inside = false;
    bool locked = false;

    assert_non_null(file);
    while (fgets(line, sizeof line, file) != NULL) {
        read_part(line, address, &inside);
        if (inside && strncmp(line, "VmFlags:", 8) == 0)
            locked = strstr(line, " lo") != NULL;
    }
    assert_int_equal(fclose(file), 0);
    return locked;
}

/* What it says is what the system counts, be it nothing. */
static void tells_what_it_holds(void **state)
{
    struct rlimit limit;
    size_t held = resident_hold();
    size_t counted = read_locked_bytes();

    (void)state;
    if (SANITIZED)
        skip();
    assert_int_equal(getrlimit(RLIMIT_MEMLOCK, &limit), 0);
    assert_true(counted >= held);
    /* Each part begins and ends within a page of its own. */
    assert_true(counted - held < (size_t)64 * 4096);
    if (limit.rlim_cur < (rlim_t)8 << 20)
        return;
    assert_true(held > (size_t)1 << 20);
    assert_true(is_in_a_locked_part((size_t)(uintptr_t)&resident_hold));
    assert_true(is_in_a_locked_part((size_t)(uintptr_t)&strstr));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tells_what_it_holds),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
