/* sound_worker.c - the process that the daemon starts to make sound. */
#include "commands.h"

int command_sound_worker(int argc, char **argv,
                         const struct command_context *context)
{
    (void)context;
    return audio_worker_main(argc, argv);
}
