/* Further batteries of the standard car: each joined to the starting battery by a cable with a fuse at both ends and
 * an isolator, its negative to the body. */
#include "input/standard_car.h"

#include <stdlib.h>
#include <string.h>

#include "text/text.h"

static const char *name_of(const struct tv_part *battery) {
  return battery->name[0] != '\0' ? battery->name : "battery";
}

static bool is_further(const struct tv_draft *draft, const struct tv_part *part) {
  return part->kind == TV_KIND_BATTERY && part != draft->starter && !part->skipped && !tv_part_is_placed(part);
}

/* The isolator's section, whose kind decides where it sits: by the battery's name, else the only one. */
static const struct tv_part *find_isolator(struct tv_draft *draft, const char *name, int batteries) {
  const struct tv_part *found = tv_unplaced(draft, TV_KIND_ISOLATOR, name);
  for (int p = 0; p < draft->part_count && found == NULL && batteries == 1; p++) {
    const struct tv_part *part = draft->parts[p];
    if (part->kind == TV_KIND_ISOLATOR && !part->skipped && !tv_part_is_placed(part)) found = part;
  }
  return found;
}

static void lay_ground(struct tv_layout *layout, struct tv_part *battery) {
  const char *name = name_of(battery);
  struct tv_name minus = tv_joined(name, "minus"), start = tv_joined(name, "ground start"),
                 end = tv_joined(name, "ground end"), ground = tv_joined(name, "ground");
  tv_lay_joint(layout, tv_joined(name, "ground at battery").text, minus.text, start.text);
  struct tv_role *cable = tv_lay(layout, TV_KIND_CABLE, ground.text, start.text, end.text);
  if (cable != NULL) cable->length = "0.5 m";
  bool front = tv_word(battery, TV_K_PLACE) == TAILVOLT_ENGINE_BAY;
  tv_lay_joint(layout, tv_joined(name, "ground at body").text, end.text, front ? "body" : "body shell rear");
  tv_assume(layout->draft, battery, TV_K_BAT_NEGATIVE, minus.text, false);
}

/* A relay or diode sits by the first battery, a converter by the battery it charges. */
static void lay_battery(struct tv_layout *layout, struct tv_part *battery, int batteries) {
  struct tv_draft *draft = layout->draft;
  const char *name = name_of(battery);
  const struct tv_part *isolator = find_isolator(draft, name, batteries);
  bool converter = strcmp(tv_text(isolator, TV_K_ISO_KIND), "converter") == 0;
  struct tv_name feed = tv_joined(name, "feed"), end_fuse = tv_joined(name, "feed end");
  struct tv_name in = tv_joined(name, "fuse in"), start = tv_joined(name, "feed start"),
                 between = tv_joined(name, converter ? "converter out" : "isolated"),
                 end = tv_joined(name, "cable end"), fused = tv_joined(name, "fused"), post = tv_joined(name, "post");
  int first = layout->count;
  tv_lay_joint(layout, tv_joined(name, "feed at first battery").text, layout->battery_post, in.text);
  tv_lay(layout, TV_KIND_FUSE, feed.text, in.text, start.text);
  struct tv_role *role = tv_lay(layout, TV_KIND_ISOLATOR, name, converter ? end.text : start.text, between.text);
  if (role != NULL) role->takes_any = batteries == 1;
  tv_lay(layout, TV_KIND_CABLE, feed.text, converter ? start.text : between.text, end.text);
  tv_lay(layout, TV_KIND_FUSE, end_fuse.text, converter ? between.text : end.text, fused.text);
  tv_lay_joint(layout, tv_joined(name, "feed at second battery").text, fused.text, post.text);
  lay_ground(layout, battery);
  tv_assume(draft, battery, TV_K_BAT_POSITIVE, post.text, false);
  struct tv_feed *feeds = realloc(draft->feeds, (size_t)(draft->feed_count + 1) * sizeof *feeds);
  if (feeds == NULL) {
    draft->no_memory = true;
    return;
  }
  draft->feeds = feeds;
  feeds[draft->feed_count++] = (struct tv_feed){
      .battery = battery, .first_role = first, .end_role = layout->count, .at_battery = true};
}

void tv_lay_batteries(struct tv_layout *layout) {
  int batteries = 0;
  if (layout->draft->starter == NULL) return;
  for (int p = 0; p < layout->draft->part_count; p++) batteries += is_further(layout->draft, layout->draft->parts[p]);
  for (int p = 0; p < layout->draft->part_count && !layout->draft->no_memory; p++)
    if (is_further(layout->draft, layout->draft->parts[p]))
      lay_battery(layout, layout->draft->parts[p], batteries);
}
