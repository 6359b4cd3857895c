/* sections.h - private to the settings room: what each section says. */
#ifndef SETTINGS_SECTIONS_H
#define SETTINGS_SECTIONS_H

#include "quarterturn/settings.h"
#include "reader.h"

/* Read a titled section into *out, checked.
 * Returns: 0, or ERR_USAGE. */
int section_read_aircraft(cfg_t *section, struct flight_aircraft *out,
                          const struct reader_why *why);
int section_read_layout(cfg_t *section, struct intake_layout *out,
                        const struct reader_why *why);
int section_read_standard(cfg_t *section, struct maneuver_standard *out,
                          const struct reader_why *why);

/* Read a section's title as a name.
 * size: of out; a longer title is a failure. */
int section_read_name(cfg_t *section, char *out, size_t size,
                      const struct reader_why *why);

/* Read the network, sound, callout and debrief sections of a file over the
 * defaults that *out holds. */
int section_read_surroundings(cfg_t *file, struct settings *out,
                              const struct reader_why *why);

/* The amount of help that the command line asked for; NULL leaves *out. */
int section_choose_help(const char *word, enum callout_help *out,
                        const struct reader_why *why);

/* The one section of a name without title, or NULL; a second one is a
 * failure.
 * Returns: 0, or ERR_USAGE. */
int section_find_single(cfg_t *file, const char *name, cfg_t **out,
                        const struct reader_why *why);

/* ---- choosing (choose.c) ------------------------------------------------ */

enum section_kind { SECTION_AIRCRAFT, SECTION_LAYOUT, SECTION_STANDARD };

/* A section that was chosen, and the file it is in. */
struct section_chosen {
    cfg_t *section;
    cfg_t *file; /* to be freed by cfg_free, or NULL */
};

/* Where sections are looked for, in this order. */
struct section_place {
    cfg_t *config;           /* that was read */
    const char *own_folder;  /* the user's, or NULL */
    const char *data_folder; /* of the program */
};

/* Find the section that a word means (see struct settings_choice).
 * word: from the command line; NULL: what the "use" section says, or the
 *    word that stands when nothing is said. */
int section_choose(const struct section_place *place, enum section_kind kind,
                   const char *word, struct section_chosen *out,
                   const struct reader_why *why);

bool file_exists(const char *path);

/* ---- folders (folder_posix.c) ------------------------------------------- */

/* Append the names NAME of files NAME.conf in a folder, sorted, to a list
 * for a message. A folder that cannot be read adds nothing. */
void folder_list_names(const char *folder, char *out, size_t size);

#endif
