/* request.h - what a line asks for. Private to control. */
#ifndef CONTROL_REQUEST_H
#define CONTROL_REQUEST_H

#include <jansson.h>

#include "quarterturn/control.h"

enum request { REQUEST_WRONG, REQUEST_STATUS, REQUEST_COMMAND };

/* Check a request.
 * json: NULL when it was not JSON. command: filled for REQUEST_COMMAND, valid
 * while json is. why: filled for REQUEST_WRONG. */
enum request request_read(const json_t *json, struct control_command *command,
                          char why[CONTROL_SAID_SIZE]);

#endif
