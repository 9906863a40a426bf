/* The layout of the standard car: its parts, before the file's own replace them. */
#ifndef TV_INPUT_STANDARD_CAR_H
#define TV_INPUT_STANDARD_CAR_H

#include "input/system_draft.h"

/* A two-ended part of the standard car. */
struct tv_role {
  enum tv_kind kind;
  char name[TAILVOLT_NAME_MAX];
  const char *other; /* a second name for the same part, or NULL */
  char from[TAILVOLT_NAME_MAX], to[TAILVOLT_NAME_MAX];
  const char *size, *length, *place; /* of cables and straps, NULL = decided elsewhere */
  const char *resistance;            /* of joints */
  const char *judged_as;             /* `role` of a conductor, or NULL */
  bool takes_any;                    /* takes the only part of its kind that bears no layout name */
  const struct tv_role *moved;       /* a role that the file has put elsewhere, so that this one leads nowhere and is not laid; or NULL */
  struct tv_part *part;
};

struct tv_layout {
  struct tv_draft *draft;
  int count, room;
  struct tv_role *role;
  const char *source_post, *front_post, *battery_post, *negative_post; /* points; front = under the bonnet */
  bool own_leads;   /* amplifiers have their own leads, from a block or a battery */
  bool ground_block; /* their grounds meet before the body */
};

/* A part, its name and its ends; the caller fills in the rest. NULL when out of memory. */
struct tv_role *tv_lay(struct tv_layout *layout, enum tv_kind kind, const char *name, const char *from,
                       const char *to);
/* A joint of 0.3 mohm. */
void tv_lay_joint(struct tv_layout *layout, const char *name, const char *from, const char *to);
/* Joins "bass" and "plus" to "bass plus"; too long a name is cut. */
struct tv_name {
  char text[TAILVOLT_NAME_MAX];
};
struct tv_name tv_joined(const char *name, const char *word);

/* Cables, straps, fuses, joints, isolators: with `from` and `to`. */
bool tv_is_two_ended(enum tv_kind kind);
/* True where the section names points; both, of a part with two ends: with one it keeps its role, and the other end that it has there. */
bool tv_part_is_placed(const struct tv_part *part);
/* Whether a part of the file joins this point. */
bool tv_point_is_joined(const struct tv_draft *draft, const char *point);
/* A part of the file without points, by kind and name; NULL = none. */
struct tv_part *tv_unplaced(struct tv_draft *draft, enum tv_kind kind, const char *name);

/* standard_feeds.c: feeds, blocks, leads and grounds of the amplifiers. */
void tv_lay_amplifiers(struct tv_layout *layout);
/* Gives each feed its parts, once every role has one. */
void tv_link_feeds(struct tv_layout *layout);
/* standard_batteries.c: every battery except the one that starts the car, with what joins the two. */
void tv_lay_batteries(struct tv_layout *layout);

#endif
