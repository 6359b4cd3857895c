/* use.h - what a listening daemon takes, and what silence alone does. */
#ifndef BENCH_USE_H
#define BENCH_USE_H

#include <stdbool.h>

#include "house.h"

/* Daemon, its sound worker, and a program that plays silence. */
enum { USE_PROCESSES = 3 };

/* Look at all three; the bench fails when one has ended. */
void use_look(int daemon, int silence, struct house_use out[USE_PROCESSES]);
/* Look again, and print and report what they took since.
 * server: of sounds, by name. passed_s: since then. */
void use_print(const char *server, bool loaded, int daemon, int silence,
               const struct house_use from[USE_PROCESSES], double passed_s);

#endif
