/* fuzz_notes.c - see tests/support/targets.h. */
#include "targets.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    target_notes(data, size);
    return 0;
}
