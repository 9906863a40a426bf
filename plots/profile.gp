# A load profile: engine speed, music, loads over time.
# data: blocks (two blank lines between), each with a line of its name: engine speed; then music_count lines of music; then
# load_count lines of loads.
if (!exists("data")) data = "profile.dat"
if (!exists("time_unit")) time_unit = "s"
if (!exists("music_count")) music_count = 0
if (!exists("load_count")) load_count = 0
array colour[6] = [blue, red, green, purple, orange, black]
panels = 1 + (music_count > 0) + (load_count > 0)
foot = 0.12
head = 1.0 - (title2 eq "" ? 2.3 : 3.4) * line_share
height_of = (head - foot) / panels
stats data index 0 using 1 nooutput
set xrange [STATS_min:STATS_max]
set lmargin at screen 0.095
set rmargin at screen 0.80
set key at screen 0.815, graph 0.98 left top vertical reverse Left samplen 2
set multiplot
panel = 0
top(panel) = head - panel * height_of
set tmargin at screen top(panel)
set bmargin at screen top(panel + 1) + 0.05
set format x ""
if (panels == 1) { set format x "% g"; set xlabel "time, ".time_unit }
set ylabel "engine, rpm"
set yrange [0:*]
set offsets 0, 0, graph 0.1, 0
plot data index 0 using 1:2 skip 1 with lines linewidth 2 linecolor rgb black title "engine speed"
unset label
if (music_count > 0) {
  panel = panel + 1
  set tmargin at screen top(panel)
  set bmargin at screen top(panel + 1) + 0.05
  if (panels == panel + 1) { set format x "% g"; set xlabel "time, ".time_unit }
  set ylabel music_label
  set yrange [*:*]
  set offsets 0, 0, graph 0.15, graph 0.15
  plot for [k = 1:music_count] data index k using 1:2 with lines linewidth 2 dashtype k linecolor rgb colour[(k - 1) % 6 + 1] title columnheader(1)
}
if (load_count > 0) {
  panel = panel + 1
  set tmargin at screen top(panel)
  set bmargin at screen top(panel + 1) + 0.05
  set format x "% g"
  set xlabel "time, ".time_unit
  set ylabel load_label
  set yrange [0:*]
  set offsets 0, 0, graph 0.15, 0
  plot for [k = 1:load_count] data index (music_count + k) using 1:2 with lines linewidth 2 dashtype k linecolor rgb colour[(k - 1) % 6 + 1] title columnheader(1)
}
unset multiplot
