/* What to see to when fitting: the words every report that may be acted upon carries. */
#ifndef TV_REPORT_CHECKLIST_H
#define TV_REPORT_CHECKLIST_H

/* Ends with NULL. */
extern const char *const tv_checklist[];

/* What a simulation is worth. */
extern const char tv_estimate_note[];

#endif
