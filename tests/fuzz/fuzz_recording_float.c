/* Recordings as the page for a browser reads them: our own reader, in place of the sound library. */
#include "input/sound_file_float.c"

#include "fuzz/recording.h"
