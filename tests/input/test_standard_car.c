/* The standard car stays: what replaces its parts, what is added, and what is chosen for it. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "support/assert_near.h"
#include "tailvolt/system.h"
#include "simulate/safety.h"
#include "support/scenes.h"
#include "support/systems.h"

#define CAR "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n"
#define BASS "[amplifier bass]\nrated power = 800 W\n"
#define FEED "[cable feed]\nsize = 4 AWG\nlength = 5.5 m\n"

static const struct tailvolt_conductor *conductor(const struct tailvolt_system *s, const char *name,
                                                  enum tailvolt_conductor_kind kind) {
  for (int k = 0; k < s->conductor_count; k++)
    if (strcmp(s->conductors[k].name, name) == 0 && s->conductors[k].kind == kind) return &s->conductors[k];
  fail_msg("no conductor '%s'", name);
  return NULL;
}

static void ends(const struct tailvolt_system *s, int from, int to, const char *a, const char *b) {
  assert_string_equal(s->point_names[from], a);
  assert_string_equal(s->point_names[to], b);
}

static void cable_ends(const struct tailvolt_system *s, const char *name, const char *a, const char *b) {
  const struct tailvolt_conductor *c = conductor(s, name, TAILVOLT_CABLE);
  ends(s, c->from, c->to, a, b);
}

static const struct tailvolt_assumption *assumed(const struct tailvolt_system *s, const char *key) {
  for (int k = 0; k < s->assumption_count; k++)
    if (strcmp(s->assumptions[k].key, key) == 0) return &s->assumptions[k];
  fail_msg("'%s' is not among the assumptions", key);
  return NULL;
}

/* Parts with points are added; the rest of the car stays as it is. */
static void added_parts(void **state) {
  (void)state;
  struct tailvolt_system *s =
      system_of(CAR BASS FEED "[load pump]\npositive = fused feed\nnegative = body stud\npower = 60 W\n"
                         "[meter at the block]\npositive = feed end\nnegative = ground\n"
                         "[joint second stud]\nfrom = body stud\nto = body\nresistance = 0.5 mohm\n");
  assert_true(s->standard_car);
  ends(s, s->loads[0].positive, s->loads[0].negative, "fused feed", "body stud");
  ends(s, s->meters[0].positive, s->meters[0].negative, "feed end", "ground");
  cable_ends(s, "charge lead", "charge lead start", "charge lead end");
  tailvolt_system_free(s);
  /* a part of a standard name with points of its own replaces that one */
  s = system_of(CAR BASS FEED "[cable charge lead]\nfrom = alternator post\nto = battery post\nsize = 50 mm2\nlength = 2 m\n");
  cable_ends(s, "charge lead", "alternator post", "battery post");
  assert_near_rel(conductor(s, "charge lead", TAILVOLT_CABLE)->resistance_ohm, 2 * 0.368e-3, 1e-12);
  tailvolt_system_free(s);
  /* with `wiring = standard`, a battery with points of its own is one more part */
  s = system_of("[vehicle]\nwiring = standard\n" CAR BASS FEED
           "[battery spare]\ncapacity = 20 Ah\npositive = fused feed\nnegative = body stud\n");
  assert_true(s->standard_car);
  assert_int_equal(s->battery_count, 2);
  assert_int_equal(s->engine.starter_battery, 0);
  tailvolt_system_free(s);
  refused(CAR BASS FEED "[cable chrage lead]\nsize = 50 mm2\nlength = 2 m\n",
          "[cable chrage lead] has no place in the standard car; give 'from' and 'to', or did you mean 'charge lead'?");
  refused(CAR "[amplifier bass]\npositive = a\nrated power = 800 W\n" FEED,
          "'negative' is missing in [amplifier bass]: which point does it join? ([amplifier bass] names its points, so "
          "all wiring is the file's own)");
}

static void second_battery(void **state) {
  (void)state;
#define SECOND                                                                                               \
  "[battery second]\ncapacity = 60 Ah\nkind = AGM\nplace = boot\n[cable second feed]\nsize = 4 AWG\nlength = 5 m\n"
  struct tailvolt_system *s = system_of(CAR "[amplifier bass]\nrated power = 1000 W\nsupply from = second\n" SECOND
                                       "[isolator]\nkind = relay\n[cable feed]\nsize = 4 AWG\nlength = 1 m\n");
  assert_int_equal(s->battery_count, 2);
  assert_int_equal(s->engine.starter_battery, 0);
  assert_int_equal(s->amplifiers[0].supply_battery, 1);
  assert_int_equal(s->batteries[1].place, TAILVOLT_BOOT);
  assert_int_equal(s->isolators[0].kind, TAILVOLT_RELAY);
  ends(s, s->isolators[0].from, s->isolators[0].to, "second feed start", "second isolated");
  cable_ends(s, "second feed", "second isolated", "second cable end");
  cable_ends(s, "second ground", "second ground start", "second ground end");
  ends(s, s->batteries[1].positive, s->batteries[1].negative, "second post", "second minus");
  const struct tailvolt_conductor *feed = conductor(s, "feed at battery", TAILVOLT_JOINT);
  ends(s, feed->from, feed->to, "second post", "fuse in");
  /* a fuse at both ends of the cable between the batteries, neither in the file */
  const struct tailvolt_conductor *a = conductor(s, "second feed", TAILVOLT_FUSE),
                                  *b = conductor(s, "second feed end", TAILVOLT_FUSE);
  ends(s, a->from, a->to, "second fuse in", "second feed start");
  ends(s, b->from, b->to, "second cable end", "second fused");
  assert_true(a->assumed && b->assumed && a->size_chosen);
  assert_near(a->distance_m, 0.3, 0);
  assert_near(a->rating_a, 100, 0);
  tailvolt_system_free(s);
  s = system_of(CAR BASS FEED SECOND "[isolator]\nkind = converter\noutput = 30 A at 14.4 V\n");
  ends(s, s->isolators[0].from, s->isolators[0].to, "second cable end", "second converter out");
  cable_ends(s, "second feed", "second feed start", "second cable end");
  /* 30 A x 14.4 V / (12 V x 0.9) = 40 A for hours: three quarters of 60 A, not of 50 A */
  assert_near(conductor(s, "second feed", TAILVOLT_FUSE)->rating_a, 60, 0);
  tailvolt_system_free(s);
  s = system_of(CAR BASS FEED SECOND "[isolator]\nkind = diode\n");
  assert_int_equal(s->isolators[0].kind, TAILVOLT_DIODE);
  tailvolt_system_free(s);
  s = system_of(CAR BASS FEED SECOND "[isolator]\nkind = none\n");
  assert_int_equal(s->isolator_count, 0);
  const struct tailvolt_conductor *straight = conductor(s, "isolator", TAILVOLT_JOINT);
  ends(s, straight->from, straight->to, "second feed start", "second isolated");
  tailvolt_system_free(s);
  s = system_of(CAR BASS FEED SECOND); /* a relay by default */
  assert_int_equal(s->isolators[0].kind, TAILVOLT_RELAY);
  tailvolt_system_free(s);
  /* two amplifiers on two batteries: the one not on the common feed has its own lead */
  s = system_of(CAR BASS FEED SECOND "[amplifier sub]\nrated power = 500 W\nsupply from = second\n[cable sub]\nlength = 1 m\n");
  ends(s, s->amplifiers[0].positive, s->amplifiers[0].negative, "amplifier plus", "amplifier minus");
  ends(s, s->amplifiers[1].positive, s->amplifiers[1].negative, "sub plus", "sub minus");
  const struct tailvolt_conductor *own = conductor(s, "sub feed at battery", TAILVOLT_JOINT);
  ends(s, own->from, own->to, "second post", "sub fuse in");
  tailvolt_system_free(s);
  refused(CAR BASS FEED "[battery second]\ncapacity = 60 Ah\n",
          "[cable second feed] is missing, the cable to battery second; write for example 'size = 4 AWG' and 'length = 5.5 m' in it");
  /* named after that battery alone, a fuse would become the amplifiers' own: which is meant must be said, unless only one is left */
  refused(CAR BASS FEED SECOND "[fuse second]\nrating = 100 A\n",
          "[fuse second] may be meant for the cable to [battery second] or for the one to the amplifiers; call it [fuse second feed] or "
          "[fuse main]");
  s = system_of(CAR BASS FEED SECOND "[fuse second]\nrating = 100 A\n[fuse second feed]\nrating = 80 A\n");
  own = conductor(s, "second", TAILVOLT_FUSE);
  ends(s, own->from, own->to, "fuse in", "fused feed");
  tailvolt_system_free(s);
  s = system_of(CAR BASS FEED SECOND "[fuse sub]\nrating = 100 A\n");
  own = conductor(s, "sub", TAILVOLT_FUSE);
  ends(s, own->from, own->to, "fuse in", "fused feed");
  tailvolt_system_free(s);
  refused("[battery a]\ncapacity = 70 Ah\n[battery b]\ncapacity = 60 Ah\n[alternator]\nrated current = 110 A\n" BASS FEED,
          "which of 2 batteries starts the engine? write for example 'starts from = a' in [engine]");
}

static void fused_block(void **state) {
  (void)state;
  struct tailvolt_system *s =
      system_of(CAR "[cable feed]\nsize = 2 x 4 AWG\nlength = 5.5 m\n[amplifier bass]\nrated power = 800 W\nonboard fuses = "
               "2 x 40 A\n[cable bass]\nsize = 8 AWG\nlength = 0.6 m\n[fuse bass]\nrating = 80 A\n[amplifier tops]\n"
               "rated power = 300 W\n[capacitor]\ncapacitance = 1 F\n[capacitor tops]\ncapacitance = 0.5 F\n");
  cable_ends(s, "feed", "fused feed", "feed end");
  cable_ends(s, "bass", "bass lead start", "bass lead end");
  cable_ends(s, "tops", "tops lead start", "tops lead end");
  cable_ends(s, "bass ground", "bass ground start", "body stud");
  const struct tailvolt_conductor *bass = conductor(s, "bass", TAILVOLT_FUSE), *tops = conductor(s, "tops", TAILVOLT_FUSE),
                                  *main_fuse = conductor(s, "main", TAILVOLT_FUSE);
  ends(s, bass->from, bass->to, "block", "bass lead start");
  assert_false(bass->assumed);
  assert_near(bass->rating_a, 80, 0);
  assert_true(tops->assumed && main_fuse->assumed);
  /* 300 W / 0.8 / 13.5 V = 27.8 A; 80 A + 27.8 A */
  assert_near(tops->rating_a, 30, 0);
  assert_near(main_fuse->rating_a, 125, 0);
  assert_string_equal(conductor(s, "tops", TAILVOLT_CABLE)->size, "10 AWG");
  assert_string_equal(conductor(s, "tops ground", TAILVOLT_CABLE)->size, "10 AWG");
  assert_string_equal(conductor(s, "bass ground", TAILVOLT_CABLE)->size, "8 AWG");
  ends(s, s->capacitors[0].positive, s->capacitors[0].negative, "block", "body stud");
  ends(s, s->capacitors[1].positive, s->capacitors[1].negative, "tops plus", "tops minus");
  tailvolt_system_free(s);
  /* grounds that meet before the body */
  s = system_of(CAR FEED BASS "[amplifier tops]\nrated power = 300 W\n[fuse tops]\nrating = 30 A\n[cable ground lead]\n"
                         "size = 4 AWG\nlength = 0.8 m\n");
  cable_ends(s, "tops ground", "tops ground start", "ground block");
  cable_ends(s, "ground lead", "ground lead start", "body stud");
  tailvolt_system_free(s);
  /* each from the battery */
  s = system_of(CAR BASS "[cable bass]\nsize = 4 AWG\nlength = 5 m\n[amplifier tops]\nrated power = 300 W\n[cable tops]\n"
                    "size = 8 AWG\nlength = 4 m\n");
  const struct tailvolt_conductor *own = conductor(s, "tops feed at battery", TAILVOLT_JOINT);
  ends(s, own->from, own->to, "battery post", "tops fuse in");
  tailvolt_system_free(s);
  /* both on one feed */
  s = system_of(CAR BASS FEED "[amplifier tops]\nrated power = 300 W\n");
  for (size_t k = 0; k < 2; k++)
    ends(s, s->amplifiers[k].positive, s->amplifiers[k].negative, "amplifier plus", "amplifier minus");
  tailvolt_system_free(s);
  refused(CAR BASS "[cable bass]\nsize = 4 AWG\nlength = 5 m\n[amplifier tops]\nrated power = 300 W\n",
          "[cable feed] is missing, the cable to the amplifiers; write for example 'size = 4 AWG' and 'length = 5.5 m' in it");
}

static void boot_battery(void **state) {
  (void)state;
  struct tailvolt_system *s = system_of("[battery]\ncapacity = 70 Ah\nplace = boot\n[alternator]\nrated current = 110 A\n" BASS
                                   "[cable feed]\nsize = 4 AWG\nlength = 1 m\n[load lights]\npower = 100 W\n");
  cable_ends(s, "starter lead", "starter lead start", "starter lead end");
  const struct tailvolt_conductor *lead = conductor(s, "starter lead", TAILVOLT_CABLE);
  assert_int_equal(lead->role, TAILVOLT_ROLE_STARTER_LEAD);
  assert_near(lead->length_m, 4.5, 0);
  assert_string_equal(lead->size, "50 mm2");
  const struct tailvolt_conductor *joint = conductor(s, "negative lead at body", TAILVOLT_JOINT);
  ends(s, joint->from, joint->to, "body shell rear", "negative lead start");
  joint = conductor(s, "charge lead at front post", TAILVOLT_JOINT);
  ends(s, joint->from, joint->to, "charge lead end", "front post");
  ends(s, s->loads[0].positive, s->loads[0].negative, "front post", "body");
  tailvolt_system_free(s);
}

/* A hybrid has no starter on its 12 V side, in either form of its file: the long lead bears another name, and the same cable. */
static void boot_battery_of_a_hybrid(void **state) {
  (void)state;
  static const char *const sources[] = {"[converter]\nrated current = 120 A\n", "[alternator]\nfixed output = 100 A\n"};
  for (size_t k = 0; k < 2; k++) {
    char text[512];
    snprintf(text, sizeof text, "[vehicle]\ncharging = converter\n[battery]\ncapacity = 45 Ah\nplace = boot\n%s" BASS
             "[cable feed]\nsize = 4 AWG\nlength = 1 m\n", sources[k]);
    struct tailvolt_system *s = system_of(text);
    cable_ends(s, "positive lead", "positive lead start", "positive lead end");
    const struct tailvolt_conductor *lead = conductor(s, "positive lead", TAILVOLT_CABLE);
    assert_int_equal(lead->role, TAILVOLT_ROLE_CHARGE_LEAD);
    assert_string_equal(lead->size, "50 mm2");
    for (int c = 0; c < s->conductor_count; c++)
      if (strstr(s->conductors[c].name, "starter") != NULL) fail_msg("there is a %s", s->conductors[c].name);
    tailvolt_system_free(s);
  }
}

/* The smallest size that loses at most 0.5 V and is protected by its fuse. By hand: 800 W / 0.8 / 13.5 V = 74.07
 * A, so 6.5 m of feed and ground may have 6.75 mohm, 1.04 mohm/m: 4 AWG has 0.832 (ASTM B258 with 2 %), 8 AWG
 * 2.10. */
static void chosen_sizes(void **state) {
  (void)state;
  struct tailvolt_system *s = system_of(CAR BASS "[cable feed]\nlength = 5.5 m\n");
  assert_string_equal(conductor(s, "feed", TAILVOLT_CABLE)->size, "4 AWG");
  assert_string_equal(conductor(s, "ground lead", TAILVOLT_CABLE)->size, "4 AWG");
  assert_true(conductor(s, "feed", TAILVOLT_CABLE)->size_chosen);
  assert_near(conductor(s, "main", TAILVOLT_FUSE)->rating_a, 80, 0);
  assert_true(assumed(s, "cable feed.size")->chosen);
  assert_true(assumed(s, "fuse main.rating")->chosen);
  assert_string_equal(assumed(s, "fuse main.rating")->value, "80 A");
  assert_false(assumed(s, "cable feed.material")->chosen);
  tailvolt_system_free(s);
  /* the on-board fuses count, not the draw; the cable grows until it can carry them: 3 kW with 3 x 100 A on
   * board */
  s = system_of(CAR "[amplifier bass]\nrated power = 3000 W\nonboard fuses = 3 x 100 A\n[cable feed]\nlength = 1 m\n");
  assert_near(conductor(s, "main", TAILVOLT_FUSE)->rating_a, 300, 0);
  assert_string_equal(conductor(s, "feed", TAILVOLT_CABLE)->size, "4/0 AWG");
  tailvolt_system_free(s);
  s = system_of(CAR "[amplifier bass]\nrated power = 800 W\nonboard fuses = 2 x 40 A\n[cable feed]\nlength = 1 m\n[fuse]\n"
               "rating = 150 A\n");
  assert_string_equal(conductor(s, "feed", TAILVOLT_CABLE)->size, "2 AWG");
  assert_false(conductor(s, "fuse", TAILVOLT_FUSE)->assumed);
  tailvolt_system_free(s);
  /* a given cable is never fused above what it can carry */
  s = system_of(CAR BASS "[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n");
  assert_near(conductor(s, "main", TAILVOLT_FUSE)->rating_a, 60, 0);
  tailvolt_system_free(s);
}

/* What a cable is sold as, against what it is. */
static void claims(void **state) {
  (void)state;
  /* 4 AWG of 5 m has 4.16 mohm */
  struct tailvolt_system *s = system_of(CAR BASS "[cable feed]\nsize = 4 AWG\nlength = 5 m\nper metre = 1.46 mohm\n");
  const struct tailvolt_conductor *feed = conductor(s, "feed", TAILVOLT_CABLE);
  assert_near_rel(feed->resistance_ohm, 7.3e-3, 1e-12);
  assert_near_rel(feed->claimed_ohm, 4.16e-3, 2e-3);
  tailvolt_system_free(s);
  s = system_of(CAR BASS "[cable feed]\nsize = 4 AWG\nlength = 5 m\nmeasured drop = 0.29 V at 40 A\n");
  assert_near_rel(conductor(s, "feed", TAILVOLT_CABLE)->claimed_ohm, 4.16e-3, 2e-3);
  tailvolt_system_free(s);
  s = system_of(CAR BASS "[cable feed]\nsize = 4 AWG\nlength = 5 m\nmeasured drop = 0.18 V at 40 A\n");
  assert_true(isnan(conductor(s, "feed", TAILVOLT_CABLE)->claimed_ohm));
  tailvolt_system_free(s);
  /* clad aluminium that says so is as stated */
  s = system_of(CAR BASS "[cable feed]\nsize = 4 AWG\nmaterial = CCA\nlength = 5 m\nper metre = 1.35 mohm\n");
  assert_true(isnan(conductor(s, "feed", TAILVOLT_CABLE)->claimed_ohm));
  tailvolt_system_free(s);
  /* 196 strands of 0.2 mm are 6.2 mm2, not 8 mm2 */
  s = system_of(CAR BASS "[cable feed]\nsize = 8 AWG\nlength = 5 m\nstrands = 196 x 0.2 mm\n");
  assert_true(conductor(s, "feed", TAILVOLT_CABLE)->claimed_ohm > 0.0);
  tailvolt_system_free(s);
}

/* A part of the standard car that states one of its ends keeps its role, its sizes and its other end. */
static void one_end_moved(void **state) {
  (void)state;
  struct tailvolt_system *s = system_of(CAR BASS "[cable power]\nsize = 4 AWG\nlength = 5.5 m\nfrom = behind\n"
                                        "[joint switch]\nfrom = fused feed\nto = behind\nresistance = 1 mohm\n");
  cable_ends(s, "power", "behind", "feed end");
  assert_near_rel(conductor(s, "ground lead", TAILVOLT_CABLE)->area_m2, conductor(s, "power", TAILVOLT_CABLE)->area_m2, 1e-12);
  assert_int_equal(conductor(s, "main", TAILVOLT_FUSE)->rating_a, 80);
  tailvolt_system_free(s);
  refused(CAR BASS FEED "[cable extra]\nfrom = feed end\nsize = 50 mm2\nlength = 2 m\n",
          "[cable extra] has no place in the standard car; give 'from' and 'to'");
}

static bool has_conductor(const struct tailvolt_system *system, const char *name, enum tailvolt_conductor_kind kind) {
  for (int k = 0; k < system->conductor_count; k++)
    if (system->conductors[k].kind == kind && strcmp(system->conductors[k].name, name) == 0) return true;
  return false;
}

/* Where a lead begins elsewhere, the fuse that was only assumed in front of it goes, and the joint before that; one that the file has is
 * refused. The battery's other leads keep theirs. */
static void lead_begins_elsewhere(void **state) {
  (void)state;
  struct tailvolt_system *s = system_of(CAR BASS "[cable feed]\nsize = 4 AWG\nlength = 5 m\nfrom = battery post\n");
  cable_ends(s, "feed", "battery post", "feed end");
  assert_false(has_conductor(s, "main", TAILVOLT_FUSE));
  assert_false(has_conductor(s, "feed at battery", TAILVOLT_JOINT));
  assert_true(has_conductor(s, "feed at amplifier", TAILVOLT_JOINT) && has_conductor(s, "charge lead at battery", TAILVOLT_JOINT));
  tailvolt_system_free(s);
  s = system_of(CAR BASS "[amplifier tops]\nrated power = 200 W\n" FEED
                         "[cable tops]\nsize = 10 AWG\nlength = 4 m\nfrom = battery post\n");
  assert_false(has_conductor(s, "tops", TAILVOLT_FUSE));
  assert_true(has_conductor(s, "main", TAILVOLT_FUSE) && has_conductor(s, "feed at battery", TAILVOLT_JOINT));
  tailvolt_system_free(s);
  refused(CAR BASS "[joint feed at battery]\nresistance = 2 mohm\n"
                   "[cable feed]\nsize = 4 AWG\nlength = 5 m\nfrom = battery post\n",
          "[joint feed at battery] leads nowhere: nothing else joins 'fuse in'; give it 'from' and 'to', "
          "or leave those of [cable feed] out");
  /* a body stud may stay without its lead */
  s = system_of(CAR BASS FEED "[joint body stud]\nresistance = 4 mohm\n[cable ground lead]\nto = ground\n");
  assert_true(has_conductor(s, "body stud", TAILVOLT_JOINT) && has_conductor(s, "main", TAILVOLT_FUSE));
  tailvolt_system_free(s);
  /* from anywhere */
  s = system_of(CAR BASS "[cable feed]\nsize = 4 AWG\nlength = 5 m\nfrom = alternator post\n");
  cable_ends(s, "feed", "alternator post", "feed end");
  assert_false(has_conductor(s, "main", TAILVOLT_FUSE) || has_conductor(s, "feed at battery", TAILVOLT_JOINT));
  assert_true(has_conductor(s, "charge lead at battery", TAILVOLT_JOINT));
  tailvolt_system_free(s);
  /* of a second battery the relay goes too */
  s = system_of(CAR BASS FEED "[battery second]\ncapacity = 60 Ah\nkind = AGM\n"
                              "[cable second feed]\nsize = 4 AWG\nlength = 4 m\nfrom = alternator post\n");
  assert_int_equal(s->isolator_count, 0);
  assert_false(has_conductor(s, "second feed", TAILVOLT_FUSE));
  assert_true(has_conductor(s, "second feed end", TAILVOLT_FUSE));
  tailvolt_system_free(s);
  refused(CAR BASS "[fuse main]\nrating = 80 A\n[cable amplifier feed]\nsize = 4 AWG\nlength = 5 m\nfrom = battery post\n",
          "[fuse main] leads nowhere: nothing else joins 'fused feed'; give it 'from' and 'to', "
          "or leave those of [cable amplifier feed] out");
  refused(CAR BASS "[fuse main]\nrating = 80 A\n[cable feed]\nsize = 4 AWG\nlength = 5 m\nfrom = battery post\n",
          "[fuse main] leads nowhere: nothing else joins 'fused feed'; give it 'from' and 'to', or leave those of [cable feed] out");
}

/* A feed of which only a drop was measured: the assumed fuse is one that such a cable can carry, and the ground lead has its
 * own size. */
static void test_measured_feed(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_parse(
      "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 800 W\n"
      "[cable feed]\nlength = 5 m\nmeasured drop = 0.9 V at 40 A\n");
  int feed = -1, fuse = -1, ground = -1;
  for (int k = 0; k < system->conductor_count; k++) {
    const char *name = system->conductors[k].name;
    if (strcmp(name, "feed") == 0 && system->conductors[k].kind == TAILVOLT_CABLE) feed = k;
    if (strcmp(name, "main") == 0) fuse = k;
    if (strcmp(name, "ground lead") == 0) ground = k;
  }
  assert_true(feed >= 0 && fuse >= 0 && ground >= 0);
  assert_near(system->conductors[feed].resistance_ohm, 0.0225, 1e-9);
  double bears_a = tv_safety_ampacity_a(system, &system->conductors[feed]);
  assert_true(system->conductors[fuse].rating_a <= bears_a && system->conductors[fuse].rating_a > 0.5 * bears_a);
  /* per metre it has no more than the feed */
  assert_true(system->conductors[ground].resistance_ohm > 0.0 && system->conductors[ground].resistance_ohm <= 0.0225 / 5.0);
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_measured_feed), cmocka_unit_test(one_end_moved),
                                     cmocka_unit_test(lead_begins_elsewhere), cmocka_unit_test(added_parts),
                                     cmocka_unit_test(second_battery),
                                     cmocka_unit_test(fused_block),  cmocka_unit_test(boot_battery),
                                     cmocka_unit_test(boot_battery_of_a_hybrid),
                                     cmocka_unit_test(chosen_sizes), cmocka_unit_test(claims)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
