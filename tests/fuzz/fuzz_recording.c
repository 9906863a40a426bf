/* Recordings as the sound library reads them. */
#include "fuzz/recording.h"
