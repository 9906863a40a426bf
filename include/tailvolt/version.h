/* Version of the library. */
#ifndef TAILVOLT_VERSION_H
#define TAILVOLT_VERSION_H
#define TAILVOLT_VERSION "0.1.0"
#endif
