#include "tailvolt/version.h"

const char *tailvolt_version(void) { return TAILVOLT_VERSION; }
