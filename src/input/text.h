/* The text helpers under the name that some sources still include. */
#ifndef TV_INPUT_TEXT_H
#define TV_INPUT_TEXT_H

#include "parts/text.h"

#endif
