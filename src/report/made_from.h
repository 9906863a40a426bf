/* What a report was made from: version, command, options and files, so that the job can be run again from the report alone. One
 * list for every command and for the page in a browser. It goes into HTML and JSON whole, into text in a line or two, and is
 * read back from HTML and JSON.
 *
 *   "made_from": { "tailvolt", "command", "options": ["--set=cable feed.size = 4 AWG"],
 *     "keys": [ what `vary` varies ],
 *     "files": [ { "use", "name", "bytes", "sha256", "text" } ],
 *     "state_hashes": [ of each run ], "sha256", "report_sha256" }
 *
 * "text" is the file itself; "latin1" in its place where it is no UTF-8; neither where it is longer than TV_MADE_KEPT or no text.
 * "sha256" is of the members before it in canonical form: compact JSON in ASCII, sorted by name. "report_sha256" is of the report
 * without what it was made from: of a JSON document in that form, of an HTML page the bytes before the block, CR left out. */
#ifndef TV_REPORT_MADE_FROM_H
#define TV_REPORT_MADE_FROM_H

#include <jansson.h>

#include "tailvolt/report.h"
#include "text/buffer.h"
#include "text/sha256.h"

/* A longer file is named only, with its length and hash. */
enum { TV_MADE_KEPT = 1 << 20, TV_MADE_SHORT = 16 /* digits of a hash where a reader sees it */ };

enum tv_made_role {
  TV_MADE_SYSTEM,
  TV_MADE_PROFILE,
  TV_MADE_PRICES,
  TV_MADE_CATALOGUE,
  /* named by a key of a system */
  TV_MADE_RECORDING,
  TV_MADE_ENVELOPE,
  TV_MADE_STYLE
};

/* What a file is for. A report calls it "system", "profile", "--prices", "--catalogue" or by its key, "programme club.recording"; the
 * system that --compare names "--compare", and what that one reads "--compare programme club.recording". */
struct tv_made_use {
  enum tv_made_role role;
  bool compared; /* the system of --compare, or a file of that one */
  char key[2 * TAILVOLT_NAME_MAX]; /* from TV_MADE_RECORDING on: "programme club.recording"; else empty */
};

/* How a file was found before it was hashed. As long as it stands like that, nobody wrote to it or put another in its place. */
struct tv_made_seen {
  bool known;
  unsigned long long device, node, bytes;
  long long changed_ns, written_ns;
};

struct tv_made_file {
  struct tv_made_use use;
  char *name; /* as it was given */
  char *path; /* where it is; NULL = only here */
  char *text; /* NULL = not kept */
  size_t length;
  unsigned long long bytes;
  char sha256[TV_SHA256_HEX]; /* empty = not known: it was no regular file */
  struct tv_made_seen seen;   /* of a file on disk that is read again by its path */
};

struct tv_made_from {
  char version[32];
  char command[32];
  int option_count, option_room;
  char **options; /* "--seed=3", "--isothermal", in the order given */
  int key_count, key_room;
  char **keys;
  int file_count, file_room;
  struct tv_made_file *files;
  int run_count;
  char (*state_hashes)[20];
  bool report_changed; /* as read: what it was made from is whole, the rest of the report is not as it was written */
  bool paths_only; /* no report is wanted: files are noted, not read */
  bool failed;     /* memory ran out */
};

void tv_made_free(struct tv_made_from *made);

void tv_made_option(struct tv_made_from *made, const char *name, const char *value); /* NULL = a switch */
void tv_made_key(struct tv_made_from *made, const char *text);
/* A file that was read into memory. A second time the same use and name change nothing, except for profiles. */
void tv_made_text(struct tv_made_from *made, struct tv_made_use use, const char *name, const char *path, const char *text, size_t length);
/* True where a file on disk stands as it did when it was noted, or was no file. */
bool tv_made_is_still(const struct tv_made_file *file);
/* A file on disk. */
void tv_made_path(struct tv_made_from *made, struct tv_made_use use, const char *name, const char *path);
/* Recordings, envelopes and styles that a system names; `compared`: it is the system of --compare. */
void tv_made_programmes(struct tv_made_from *made, const struct tailvolt_system *system, bool compared);

/* The use of a file that a key of a system names; false where the key names none. */
bool tv_made_key_use(const char *key, bool compared, struct tv_made_use *use);
/* A use as a report calls it, and back; false where it is called nothing known. */
enum { TV_MADE_USE_ROOM = 2 * TAILVOLT_NAME_MAX + 16 };
void tv_made_use_write(const struct tv_made_use *use, char to[TV_MADE_USE_ROOM]);
bool tv_made_use_read(const char *text, struct tv_made_use *use);
void tv_made_runs(struct tv_made_from *made, const struct tailvolt_result *const *runs, int count);

/* A file whole, a zero behind it and not counted; "-" = standard input. NULL with errno set, EFBIG where it is longer than `most`. */
char *tv_read_file(const char *path, size_t most, size_t *length);
/* Length and hash of a regular file; false with errno set. */
bool tv_hash_file(const char *path, unsigned long long *bytes, char sha256[TV_SHA256_HEX]);

/* The object as above but for its last member. NULL where memory ran out. */
json_t *tv_made_json(const struct tv_made_from *made);

/* The same added to a finished report: a JSON document; a text report `columns` wide, which names the files with the first digits of
 * their hashes: a paragraph with a label, of its own or, `labelled`, at once after the report's last that is one.
 * Both replace *text; after a failure it is freed and NULL. */
TAILVOLT_CHECKED enum tailvolt_status tv_made_into_json(const struct tv_made_from *made, char **text);
TAILVOLT_CHECKED enum tailvolt_status tv_made_into_text(const struct tv_made_from *made, const struct tailvolt_report_style *style,
                                                        size_t columns, bool labelled, char **text);

/* What a report that was read says of itself, for `check`; NULL where memory ran out. Free with tailvolt_report_free(). */
char *tv_made_understood(const struct tv_made_from *made, const char *report, const struct tailvolt_report_style *style);

/* Reads what an HTML page or a JSON document was made from. TAILVOLT_OK, _NO_MEMORY, or _BAD_INPUT with `error`
 * (TAILVOLT_TEXT_MAX bytes): it holds no such thing, or was changed since. The caller frees `made` in any case. */
TAILVOLT_CHECKED enum tailvolt_status tv_made_read(const char *text, size_t length, struct tv_made_from *made, char *error);

/* The hash of an object in canonical form, without its members "sha256", "report_sha256" and "made_from". False where memory ran out. */
bool tv_made_hash(const json_t *object, char sha256[TV_SHA256_HEX]);
/* Of the part of a page before its block. */
void tv_made_page_hash(const char *page, size_t length, char sha256[TV_SHA256_HEX]);

#endif
