/* readers.h - those who read what a command writes, and may go first. */
#ifndef COMMANDS_READERS_H
#define COMMANDS_READERS_H

/* From now on a reader that has gone, of captions or of an answer, makes a
 * write fail and no longer ends the program: for commands that fly on without.
 * Others keep the default, which ends them quietly in a pipe to "head".
 * Thread: main, before the loop runs. */
void readers_may_go(void);

#endif
