/* Paths that a system file names. */
#ifndef TV_INPUT_PATH_H
#define TV_INPUT_PATH_H

/* A path as the system file means it: relative to the folder of the system file. NULL = no memory. */
char *tv_beside(const char *system_file, const char *path);

#endif
