/* heap_linux.c - giving memory back to the system. */
#include <stdlib.h>
#ifdef __GLIBC__
#include <malloc.h>
#endif

#include "share.h"

/* Another C library has no such call: what it keeps, it keeps. */
void audio_heap_trim(void)
{
#ifdef __GLIBC__
    (void)malloc_trim(0);
#endif
}
