/* ordinary.c - running the program as a user who owns nothing. */
#include "ordinary.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <unistd.h>

#include <cmocka.h>

/* Install what it reads where any user can read it. */
static void install(const struct folder *folder)
{
    struct process copy;
    const char *words[] = {"-c",
                           "mkdir -p \"$1/bin\" \"$1/share/quarterturn\" && "
                           "cp \"$0\" \"$1/bin/quarterturn\" && "
                           "cp -r config sounds \"$1/share/quarterturn\" && "
                           "chmod -R a+rX \"$1/bin\" \"$1/share\" && "
                           "chmod 777 \"$1\"",
                           process_program(), folder->path, NULL};

    process_run_other(&copy, "sh", words);
    assert_int_equal(copy.status, 0);
}

void ordinary_start(const struct folder *folder, const char *const *words,
                    struct process *process)
{
    char program[FOLDER_PATH_SIZE];
    const char *all[PROCESS_MAX_WORDS + 1] = {"--reuid=65534", "--regid=65534",
                                              "--clear-groups",
                                              "--no-new-privs", program};
    size_t count = 5;

    if (geteuid() != 0) {
        process_start(process, words);
        return;
    }
    folder_path(folder, "bin/quarterturn", program);
    if (access(program, X_OK) != 0)
        install(folder);
    while (*words != NULL && count < PROCESS_MAX_WORDS)
        all[count++] = *words++;
    assert_null(*words);
    process_start_other(process, "setpriv", all);
}
