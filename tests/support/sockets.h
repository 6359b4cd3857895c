/* sockets.h - the sockets that a process has open. */
#ifndef SUPPORT_SOCKETS_H
#define SUPPORT_SOCKETS_H

#include <stdint.h>

struct sockets {
    int udp;        /* IPv4 and UDP */
    int other_inet; /* any other of the network: IPv6, TCP, raw */
    int unix_listening;
    char udp_address[16]; /* of the last one found */
    uint16_t udp_port;
    char unix_path[108];
};

/* Look them up in /proc; the test fails when that cannot be read. */
void sockets_find(struct sockets *sockets, int pid);

#endif
