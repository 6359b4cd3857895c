/* schema.h - private to the settings room: what a file may hold. */
#ifndef SETTINGS_SCHEMA_H
#define SETTINGS_SCHEMA_H

#include <confuse.h>

/* The option of every section that holds the place of the section's name. */
#define SCHEMA_OPENED "="

/* The options of a whole file. libConfuse copies them. */
cfg_opt_t *schema_of_file(void);

#endif
