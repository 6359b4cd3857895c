/* test_resident.c - what the loop runs is held in memory. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdbool.h>
#include <stdio.h>
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
    int found = 0;

    assert_non_null(file);
    while (found != 1 && fgets(line, sizeof line, file) != NULL)
        found = sscanf(line, "VmLck: %zu kB", &kib);
    assert_int_equal(fclose(file), 0);
    assert_int_equal(found, 1);
    return kib * 1024;
}

static bool is_in_a_locked_part(size_t address)
{
    FILE *file = fopen("/proc/self/smaps", "r");
    char line[512];
    size_t from, to;
    bool inside = false;
    bool locked = false;

    assert_non_null(file);
    while (fgets(line, sizeof line, file) != NULL) {
        if (sscanf(line, "%zx-%zx ", &from, &to) == 2)
            inside = address >= from && address < to;
        else if (inside && strncmp(line, "VmFlags:", 8) == 0)
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
