/* socket.h - what the control socket needs of the system. Private. */
#ifndef CONTROL_SOCKET_H
#define CONTROL_SOCKET_H

#include <stdbool.h>

/* Whether somebody answers on the socket at path. */
bool control_socket_answers(const char *path);
/* Whether there is a socket, and not some other file, at path. */
bool control_socket_exists(const char *path);
/* From now on new files are their owner's only; the value for _restore. */
unsigned control_socket_private(void);
void control_socket_restore(unsigned mask);

#endif
