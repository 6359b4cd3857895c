/* ready.h - telling the service manager how the daemon fares.
 *
 * Nothing is sent when no service manager asked for it. */
#ifndef COMMANDS_READY_H
#define COMMANDS_READY_H

/* Send one message, as "READY=1\nSTATUS=listening", to the socket that
 * NOTIFY_SOCKET names. Source: sd_notify(3), whose protocol is stable.
 * Returns: 0 sent, or nobody asked; ERR_IO. Thread: loop; does not block. */
int ready_tell(const char *message);
/* That the configuration is being read again, with the time, as sd_notify(3)
 * asks; READY=1 has to follow. Returns as above. */
int ready_tell_reloading(void);

#endif
