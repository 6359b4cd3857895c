/* layout_words.h - private to the settings room: reading what packets and
 * their fields say. */
#ifndef SETTINGS_LAYOUT_WORDS_H
#define SETTINGS_LAYOUT_WORDS_H

#include "quarterturn/intake.h"
#include "reader.h"

/* A set of forms, and which of them an option belongs to. */
#define FORM_BIT(form) (1u << (form))
enum {
    FORMS_LINES = FORM_BIT(INTAKE_FORM_TEXT) | FORM_BIT(INTAKE_FORM_PAIRS),
    FORMS_BYTES = FORM_BIT(INTAKE_FORM_BINARY) | FORM_BIT(INTAKE_FORM_RECORDS),
    FORMS_WORDS = FORMS_LINES | FORM_BIT(INTAKE_FORM_JSON),
    FORMS_DECLARED = FORMS_WORDS | FORMS_BYTES /* the layout says where */
};
struct layout_option {
    const char *name;
    unsigned forms;
};

/* What a packet's fields stand in. */
struct layout_ground {
    struct intake_layout *layout; /* form is set; takes max_age_ns */
    bool big_endian;
};

/* "NAME = "VALUE" is not known; accepted: ...". Returns: ERR_USAGE. */
int layout_fail_word(cfg_t *section, const char *name, const char *accepted,
                     const struct reader_why *why);
/* Refuse options that have no meaning in a form. Returns: 0 or ERR_USAGE. */
int layout_refuse(cfg_t *section, const struct layout_option *option,
                  size_t count, enum intake_form form,
                  const struct reader_why *why);
/* byte_order, if it is given. */
int layout_read_byte_order(cfg_t *section, bool *big_endian,
                           const struct reader_why *why);
/* The type under a name, which is required. integer: floating-point types are
 * refused. */
int layout_read_type(cfg_t *section, const char *name, bool integer,
                     enum intake_type *out, const struct reader_why *why);

/* Read a packet's fields, checked against it (field_section.c). */
int layout_read_fields(cfg_t *section, const struct layout_ground *ground,
                       struct intake_packet *packet,
                       const struct reader_why *why);

#endif
