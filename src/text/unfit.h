/* What cannot be read, told before opening it: a pipe that nobody writes never opens, an endless device never ends. */
#ifndef TV_TEXT_UNFIT_H
#define TV_TEXT_UNFIT_H

#include <stdbool.h>

/* Why the file is not to be opened, NULL = nothing against it (it need not exist). `again`: it is read more than once, or not in order,
 * which a pipe cannot be. "-" is standard input. */
const char *tv_unfit(const char *path, bool again);

#endif
