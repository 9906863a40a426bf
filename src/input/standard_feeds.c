/* How the amplifiers of the standard car are fed.
 *
 * One feed with a main fuse for all of them; or that feed to a block and a fused lead from there to each, where
 * the file names a cable or fuse after an amplifier; or a fused lead to each straight from its battery. */
#include "input/standard_car.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "text/text.h"

struct plan {
  struct tv_layout *layout;
  int count;
  const struct tv_part *common_source; /* battery of the common feed */
  bool block, all_direct;
};

static const char *name_of(const struct tv_part *amplifier) {
  return amplifier->name[0] != '\0' ? amplifier->name : "amplifier";
}

static bool has_section(struct tv_draft *draft, enum tv_kind kind, const char *name) {
  return tv_unplaced(draft, kind, name) != NULL;
}

/* An amplifier that was moved behind what now stands at the end of its lead (a second battery): the lead stays the layout's. */
static bool keeps_its_lead(struct tv_draft *draft, const struct tv_part *amplifier) {
  const char *name = name_of(amplifier);
  return has_section(draft, TV_KIND_CABLE, name) || has_section(draft, TV_KIND_FUSE, name) ||
         tv_point_is_joined(draft, tv_joined(name, "plus").text);
}

/* The next amplifier that the file leaves to the layout. */
static struct tv_part *next_amplifier(const struct tv_layout *layout, int *at) {
  while (*at < layout->draft->part_count) {
    struct tv_part *part = layout->draft->parts[(*at)++];
    if (part->kind != TV_KIND_AMPLIFIER || part->skipped) continue;
    if (!tv_part_is_placed(part) || keeps_its_lead(layout->draft, part)) return part;
  }
  return NULL;
}

static const struct tv_part *source_of(const struct tv_layout *layout, const struct tv_part *amplifier) {
  const struct tv_part *named = NULL;
  if (tv_has(amplifier, TV_K_SUPPLY_FROM))
    named = tv_battery_named(layout->draft, tv_text(amplifier, TV_K_SUPPLY_FROM));
  return named != NULL ? named : layout->draft->starter;
}

static struct tv_name post_of(const struct tv_layout *layout, const struct tv_part *battery) {
  if (battery != NULL && battery != layout->draft->starter) {
    if (tv_has(battery, TV_K_BAT_POSITIVE)) {
      struct tv_name own;
      tv_copy_text(own.text, sizeof own.text, tv_text(battery, TV_K_BAT_POSITIVE));
      return own;
    }
    return tv_joined(battery->name[0] != '\0' ? battery->name : "battery", "post");
  }
  struct tv_name post;
  tv_copy_text(post.text, sizeof post.text, layout->battery_post);
  return post;
}

/* Notes a feed to be sized and fused once its parts exist. */
static void plan_feed(struct tv_layout *layout, int first_role, const struct tv_part *amplifier, bool from_battery) {
  struct tv_draft *draft = layout->draft;
  struct tv_feed *feeds = realloc(draft->feeds, (size_t)(draft->feed_count + 1) * sizeof *feeds);
  if (feeds == NULL) {
    draft->no_memory = true;
    return;
  }
  draft->feeds = feeds;
  feeds[draft->feed_count++] =
      (struct tv_feed){.amplifier = amplifier, .first_role = first_role, .end_role = layout->count, .at_battery = from_battery};
}

static void lay_cable(struct tv_layout *layout, const char *name, const char *other, const char *from, const char *to,
                      const char *length) {
  struct tv_role *role = tv_lay(layout, TV_KIND_CABLE, name, from, to);
  if (role == NULL) return;
  role->other = other;
  role->length = length;
}

/* One amplifier's own lead and ground, from a block, or from a battery post where there is none. */
static void lay_lead(struct tv_layout *layout, struct tv_part *amplifier, const char *from, bool block) {
  const char *name = name_of(amplifier);
  struct tv_name fused = tv_joined(name, "lead start"), end = tv_joined(name, "lead end");
  struct tv_name plus = tv_joined(name, "plus"), minus = tv_joined(name, "minus");
  struct tv_name ground = tv_joined(name, "ground"), start = tv_joined(name, "ground start");
  struct tv_name in = tv_joined(name, "fuse in");
  int first = layout->count;
  if (!block) tv_lay_joint(layout, tv_joined(name, "feed at battery").text, from, in.text);
  struct tv_role *fuse = tv_lay(layout, TV_KIND_FUSE, name, block ? from : in.text, fused.text);
  (void)fuse;
  lay_cable(layout, name, NULL, fused.text, end.text, block ? "0.5 m" : NULL);
  tv_lay_joint(layout, tv_joined(name, "lead at amplifier").text, end.text, plus.text);
  tv_lay_joint(layout, tv_joined(name, "ground at amplifier").text, minus.text, start.text);
  bool met = block && layout->ground_block;
  lay_cable(layout, ground.text, NULL, start.text, met ? "ground block" : "body stud", met ? "0.5 m" : "1 m");
  tv_assume(layout->draft, amplifier, TV_K_AMP_POSITIVE, plus.text, false);
  tv_assume(layout->draft, amplifier, TV_K_AMP_NEGATIVE, minus.text, false);
  plan_feed(layout, first, amplifier, !block);
}

static void lay_common_feed(struct tv_layout *layout, const struct plan *plan) {
  struct tv_name post = post_of(layout, plan->common_source);
  int first = layout->count;
  tv_lay_joint(layout, "feed at battery", post.text, "fuse in");
  struct tv_role *fuse = tv_lay(layout, TV_KIND_FUSE, "main", "fuse in", "fused feed");
  if (fuse != NULL) fuse->takes_any = true;
  struct tv_role *feed = tv_lay(layout, TV_KIND_CABLE, "feed", "fused feed", "feed end");
  if (feed == NULL) return;
  feed->other = "amplifier feed";
  feed->takes_any = true;
  if (plan->block) {
    tv_lay_joint(layout, "feed at block", "feed end", "block");
  } else {
    tv_lay_joint(layout, "feed at amplifier", "feed end", "amplifier plus");
    tv_lay_joint(layout, "ground lead at amplifier", "amplifier minus", "ground lead start");
  }
  if (layout->ground_block) tv_lay_joint(layout, "ground lead at block", "ground block", "ground lead start");
  if (!plan->block || layout->ground_block)
    lay_cable(layout, "ground lead", "amplifier ground", "ground lead start", "body stud", "1 m");
  plan_feed(layout, first, NULL, true);
}

/* What the file's sections call for. */
static struct plan make_plan(struct tv_layout *layout) {
  struct tv_draft *draft = layout->draft;
  struct plan plan = {.layout = layout};
  bool feed_named = has_section(draft, TV_KIND_CABLE, "feed") || has_section(draft, TV_KIND_CABLE, "amplifier feed");
  bool all_own = true, one_source = true;
  int at = 0;
  const struct tv_part *first_source = NULL, *amplifier;
  while ((amplifier = next_amplifier(layout, &at)) != NULL) {
    const struct tv_part *source = source_of(layout, amplifier);
    all_own = all_own && has_section(draft, TV_KIND_CABLE, name_of(amplifier));
    if (plan.count++ == 0) first_source = source;
    one_source = one_source && source == first_source;
  }
  plan.common_source = one_source && plan.count > 0 ? first_source : draft->starter;
  bool any_own = false; /* among those on the common feed */
  at = 0;
  while ((amplifier = next_amplifier(layout, &at)) != NULL)
    any_own = any_own || (source_of(layout, amplifier) == plan.common_source &&
                          (has_section(draft, TV_KIND_CABLE, name_of(amplifier)) ||
                           has_section(draft, TV_KIND_FUSE, name_of(amplifier))));
  plan.all_direct = plan.count > 1 && all_own && !feed_named;
  plan.block = any_own && (feed_named || (plan.count > 1 && one_source)) && !plan.all_direct;
  layout->own_leads = plan.block || plan.all_direct || !one_source;
  layout->ground_block = plan.block && (has_section(draft, TV_KIND_CABLE, "ground lead") ||
                                        has_section(draft, TV_KIND_CABLE, "amplifier ground"));
  return plan;
}

void tv_lay_amplifiers(struct tv_layout *layout) {
  struct plan plan = make_plan(layout);
  bool common = plan.count == 0;
  int at = 0;
  struct tv_part *amplifier;
  while ((amplifier = next_amplifier(layout, &at)) != NULL)
    common = common || (!plan.all_direct && source_of(layout, amplifier) == plan.common_source);
  if (common) lay_common_feed(layout, &plan);
  at = 0;
  while (!layout->draft->no_memory && (amplifier = next_amplifier(layout, &at)) != NULL) {
    const struct tv_part *source = source_of(layout, amplifier);
    bool direct = plan.all_direct || source != plan.common_source;
    amplifier->on_common_feed = !direct;
    if (direct)
      lay_lead(layout, amplifier, post_of(layout, source).text, false);
    else if (plan.block)
      lay_lead(layout, amplifier, "block", true);
  }
}

/* A cable between batteries, or to an amplifier, whose length only the user can know. */
static void require_cable(struct tv_draft *draft, const struct tv_feed *feed) {
  const struct tv_part *cable = feed->cable;
  if (cable == NULL || !cable->standard || !feed->at_battery || (draft->misspelt & 1u << TV_KIND_CABLE) != 0) return;
  draft->layout_broken = true;
  struct tv_place place = {draft, draft->file, 0, cable->id, "size", NULL, 0};
  int amplifiers = 0;
  for (int p = 0; p < draft->part_count; p++) amplifiers += draft->parts[p]->kind == TV_KIND_AMPLIFIER;
  const struct tv_part *end = feed->battery != NULL ? feed->battery : feed->amplifier;
  const char *to = end != NULL ? end->id : amplifiers <= 1 ? "the amplifier" : "the amplifiers";
  tv_place_fault(&place, "[%s] is missing, the cable to %s; write for example 'size = 4 AWG' and 'length = 5.5 m' in it",
                 cable->id, to);
}

void tv_link_feeds(struct tv_layout *layout) {
  struct tv_draft *draft = layout->draft;
  for (int f = 0; f < draft->feed_count; f++) {
    struct tv_feed *feed = &draft->feeds[f];
    for (int r = feed->first_role; r < feed->end_role; r++) {
      struct tv_part *part = layout->role[r].part;
      if (part == NULL) continue;
      if (part->kind == TV_KIND_CABLE) *(feed->cable == NULL ? &feed->cable : &feed->ground) = part;
      if (part->kind == TV_KIND_FUSE) *(feed->fuse == NULL ? &feed->fuse : &feed->end_fuse) = part;
      if (part->kind == TV_KIND_ISOLATOR) feed->isolator = part;
    }
    if (feed->at_battery) {
      tv_assume(draft, feed->fuse, TV_K_DISTANCE, "30 cm", true);
      tv_assume(draft, feed->end_fuse, TV_K_DISTANCE, "30 cm", true);
    }
    if (feed->cable != NULL) feed->cable->in_feed = true;
    if (feed->ground != NULL) feed->ground->in_feed = true;
    require_cable(draft, feed);
  }
}
