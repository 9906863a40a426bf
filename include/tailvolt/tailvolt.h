/* Everything a program that links libtailvolt sees.
 *
 * What holds of every call, where its own comment does not say otherwise:
 *
 * Units. SI, named at the end of each field and parameter: _v, _a, _w, _ohm, _f, _ah, _j, _s, _m, _m2, _hz, _l (litre), _min; _c is
 * degrees Celsius and _k a difference of temperature; _rpm is of the crankshaft; _frac is a share, 1 = all of it, and _pct the same
 * times 100; _db as in acoustics, 10 log10 of a ratio of powers. A double without a value is NAN.
 *
 * Statuses. See status.h. Beside those that a call lists TAILVOLT_INTERNAL may come from any: a mistake of the program that calls, such
 * as options not begun with their tailvolt_default_..._options(), or one inside the library.
 *
 * What is handed out. `*out` is NULL after any failure, and else a block of its own that the program frees with the call named there;
 * those calls take NULL. A `const char *` or `const struct` that is returned belongs to what it was asked of and lives as long; where
 * nothing was asked, to the library, for ever. Nothing else is kept: what is handed in is copied or no longer needed when the call
 * returns. What must live longer is said where that is so.
 *
 * What is handed in. Pointers are not NULL, enums have a value that is named, indices lie from 0 to one below the count: none of that is
 * checked. Texts are UTF-8 and end with a zero byte. A path may be "-" for standard input where its comment says so.
 *
 * Texts written. `error`: TAILVOLT_TEXT_MAX bytes, or NULL; after a failure it says why, in English, and may be empty for
 * TAILVOLT_NO_MEMORY; else it is not to be read. `to` with `size`: cut to `size` bytes, 1 at least, and ended by a zero byte. Numbers
 * have a decimal point whatever the locale.
 *
 * Faults. See struct tailvolt_faults in status.h.
 *
 * Threads. There is no state outside the objects, so calls on different objects may run at the same time. What a call takes as `const`
 * may be shared by any number of them; what it does not, belongs to one thread at a time. Calls with a number of `threads` use that many
 * at most, wait for them and leave none behind. What they call back (progress, rows) is never called twice at once, but perhaps from one
 * of those threads; it may not call into the same object, and must return, not jump or throw. The other calls, tailvolt_simulate() among
 * them, work and call back in the thread they were called from. No call is for a signal handler. */
#ifndef TAILVOLT_TAILVOLT_H
#define TAILVOLT_TAILVOLT_H
#include "tailvolt/budget.h"
#include "tailvolt/certainty.h"
#include "tailvolt/drive.h"
#include "tailvolt/envelope.h"
#include "tailvolt/finding.h"
#include "tailvolt/log.h"
#include "tailvolt/match.h"
#include "tailvolt/measure.h"
#include "tailvolt/profile.h"
#include "tailvolt/quantity.h"
#include "tailvolt/questions.h"
#include "tailvolt/report.h"
#include "tailvolt/remedy.h"
#include "tailvolt/result.h"
#include "tailvolt/simulate.h"
#include "tailvolt/status.h"
#include "tailvolt/study.h"
#include "tailvolt/system.h"
#include "tailvolt/vary.h"
#include "tailvolt/version.h"
#endif
