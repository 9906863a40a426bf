# Measured beside simulated, and below it the error, simulated less measured.
# data: time, measured, simulated, simulated before (or ?), the last two less measured; a blank line where a log ends.
if (!exists("data")) data = "measured.dat"
if (!exists("time_unit")) time_unit = "s"
if (!exists("unit")) unit = "V"
if (!exists("has_before")) has_before = 0
if (!exists("log_count")) log_count = 1
foot = 0.19
head = 1.0 - (title2 eq "" ? 2.3 : 3.4) * line_share
middle = foot + 0.36 * (head - foot)
stats data using 1 nooutput
dot = STATS_records > 400 ? 0.3 : 0.6
set xrange [STATS_min:STATS_max]
set lmargin at screen 0.095
set rmargin at screen 0.97
set key at screen 0.53, screen 0.015 center bottom horizontal samplen 2
set multiplot
set tmargin at screen head
set bmargin at screen middle + 0.03
set format x ""
set ylabel "measured and simulated, ".unit
set offsets 0, 0, graph 0.06, graph 0.06
if (has_before) {
  plot data using 1:2 with points pointtype 7 pointsize dot linecolor rgb grey title "measured", \
       data using 1:4 with lines linewidth 1.8 dashtype "-" linecolor rgb orange title "before", \
       data using 1:3 with lines linewidth 2 linecolor rgb blue title "fitted"
} else {
  plot data using 1:2 with points pointtype 7 pointsize dot linecolor rgb grey title "measured", \
       data using 1:3 with lines linewidth 2 linecolor rgb blue title "simulated"
}
unset label
set tmargin at screen middle - 0.01
set bmargin at screen foot
set format x "% g"
set xlabel log_count > 1 ? "time, ".time_unit.", one log after the other" : "time, ".time_unit
set ylabel "error, ".unit
set arrow 1 from graph 0, first 0 to graph 1, first 0 nohead linewidth 1 linecolor rgb black
unset key
if (has_before) {
  plot data using 1:6 with points pointtype 6 pointsize dot linecolor rgb orange, \
       data using 1:5 with points pointtype 7 pointsize dot linecolor rgb blue
} else {
  plot data using 1:5 with points pointtype 7 pointsize dot linecolor rgb blue
}
unset multiplot
