# An evening with the engine off: charge above, volts below, and what ends it when.
# data: time, charge of the starting battery and of the one that feeds the music in %, rested voltage, lowest voltage at the
# amplifier, posts while the starter turns. limit_pct, floor_v: limits; stops, no_start, cut_out, wanted: moments, each with
# NAME_text; p10, p90: 8 of 10 cars stop between them.
if (!exists("data")) data = "evening.dat"
if (!exists("unit")) unit = "h"
if (!exists("two_batteries")) two_batteries = 0
set style textbox opaque noborder margins 0.4, 0.2
set autoscale xfix
stats data using 1 nooutput
to = STATS_max
set xrange [0:to]
set multiplot
set lmargin at screen 0.095
set rmargin at screen 0.97
set bmargin at screen 0.60
set format x ""
set ylabel "charge, %"
set yrange [0:100]
set key at graph 0.99, graph 0.97 top right vertical opaque samplen 3 box linecolor rgb 0xBBBBBB
if (!two_batteries) { unset key }
if (exists("p10")) {
  if (p90_open) { p90 = to }
  set object 1 rectangle from p10, graph 0 to (p90 > to ? to : p90), graph 1 fillstyle solid 0.22 noborder fillcolor rgb orange behind
  set label 6 spread_text at screen 0.53, screen 0.03 center
}
if (exists("limit_pct")) {
  set arrow 5 from 0, limit_pct to to, limit_pct nohead linewidth 1.6 dashtype "-" linecolor rgb red
  set label 5 "limit ".sprintf("%.0f", limit_pct)." %" at 0, limit_pct left offset 0.6, -0.8 boxed front
}
# a label goes to the right of its line if it fits there; the lines cross both panels, and stay under the labels: each label is
# in front, and its box hides the line behind it
if (exists("stops")) {
  set arrow 1 from stops, graph 0 to stops, graph 1 nohead linewidth 2 linecolor rgb black
  set label 1 stops_text at stops, graph 0.92 left offset 0.8, 0 boxed front
  if (stops > 0.62 * to) { set label 1 right offset -0.8, 0 }
}
if (exists("no_start")) {
  set arrow 2 from no_start, graph 0 to no_start, graph 1 nohead linewidth 1.6 dashtype "." linecolor rgb black
  set label 2 no_start_text at no_start, graph 0.79 left offset 0.8, 0 boxed front
  if (no_start > 0.62 * to) { set label 2 right offset -0.8, 0 }
}
if (exists("cut_out")) {
  set arrow 3 from cut_out, graph 0 to cut_out, graph 1 nohead linewidth 1.6 dashtype "_." linecolor rgb black
  set label 3 cut_out_text at cut_out, graph 0.66 left offset 0.8, 0 boxed front
  if (cut_out > 0.62 * to) { set label 3 right offset -0.8, 0 }
}
if (exists("wanted")) {
  set arrow 4 from wanted, graph 0 to wanted, graph 1 nohead linewidth 1.6 dashtype "-" linecolor rgb blue
  set label 4 wanted_text at wanted, graph 0.53 left offset 0.8, 0 boxed front
  if (wanted > 0.62 * to) { set label 4 right offset -0.8, 0 }
}
if (two_batteries) {
  plot data using 1:2 with lines linewidth 2.2 linecolor rgb blue title "starts the car", \
       data using 1:3 with lines linewidth 2.2 dashtype "_." linecolor rgb green title "feeds the music"
} else {
  plot data using 1:2 with lines linewidth 2.2 linecolor rgb blue notitle
}
unset label
unset arrow 5
set tmargin at screen 0.565
set bmargin at screen 0.245
set format x "% g"
set xlabel "playing time, ".unit offset 0, 0.3
set ylabel "voltage, V"
set yrange [*:*]
set offsets 0, 0, 0.2, 0.2
set key at screen 0.53, screen 0.09 center center horizontal maxrows 1 nobox samplen 3 width -3
if (exists("floor_v")) {
  set arrow 5 from 0, floor_v to to, floor_v nohead linewidth 1.6 dashtype "-" linecolor rgb red
  set label 5 sprintf("%.1f V needed to start", floor_v) at 0, floor_v left offset 0.6, 0.8 boxed front
}
plot data using 1:4 with lines linewidth 2.2 linecolor rgb blue title "rested", \
     data using 1:5 with lines linewidth 2 dashtype "-" linecolor rgb green title "lowest at the amplifier", \
     data using 1:6 with lines linewidth 2 dashtype "_." linecolor rgb purple title "at the posts while starting"
unset multiplot
