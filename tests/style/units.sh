#!/bin/sh
# Every physical number in the public headers carries its unit as a suffix of its name.
cd "$(dirname "$0")/../.."
awk '
  BEGIN {
    suffix = "_(v|a|ohm|f|w|j|s|h|c|k|m|m2|ah|a2|rpm|pct|db|dbfs|frac|min|hz|kmh|l|ratio|per_k|per_min|a_per_s|nm)$"
    # x, y: a bare curve; load_on: 0 to 1; cells: numbers of a record, named by their columns;
    # p10, p50, p90: quantiles of what their struct names; days, hours: are units
    # themselves; value: in the unit of its measure; number, limit: in the unit
    # of their reason; nominal, low, high, tail_high, and what draws them or tells their moments: in the unit of their
    # value; bias to simulated_mean: in the unit of their column;
    # before, error: in the unit of their key; worth: readings; factors: 0 to 1; the rest have no unit
    split("normal tolerance typed fitted before before_error after after_error tailvolt_meter_tolerance chi_square freedom before error worth bias rms spread worst measured simulated measured_mean simulated_mean nominal low high tail_high factors tailvolt_uncertain_draw tailvolt_uncertain_mean tailvolt_uncertain_deviation x y load_on cells p10 p50 p90 half_width rank_correlation cost price number limit value days hours", names, " ")
    # normal to tailvolt_meter_tolerance: in the unit of the instrument or value; chi_square, freedom: have none
    for (k in names) bare[names[k]] = 1
  }
  {
    line = $0
    sub(/\/\*.*/, "", line)
    if (line ~ /^[[:space:]]*\*/) next
    while (match(line, /(^|[^A-Za-z0-9_])double[[:space:]]+/)) {
      rest = substr(line, RSTART + RLENGTH)
      end = match(rest, /[;)]/) ? RSTART - 1 : length(rest)
      list = substr(rest, 1, end)
      line = substr(rest, end + 1)
      count = split(list, field, ",")
      for (k = 1; k <= count; k++) {
        name = field[k]
        gsub(/\[[^]]*\]/, "", name)
        gsub(/[*[:space:]]/, "", name)
        # the next parameter of a function, or a function that returns a double
        if (k > 1 && field[k] ~ /[A-Za-z0-9_][[:space:]]+\**[A-Za-z]/) {
          for (back = ""; k <= count; k++) back = back "," field[k]
          line = back line
          break
        }
        if (name ~ /\(/ ) { sub(/\(.*/, "", name); if (name == "") continue }
        if (name == "" || name in bare || name ~ suffix) continue
        printf "%s:%d: %s has no unit suffix\n", FILENAME, FNR, name
        bad = 1
      }
    }
  }
  END { if (!bad) print "unit suffixes: every double has one"; exit bad }
' include/tailvolt/*.h
