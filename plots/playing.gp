# Playing time with the engine off: what ends it when, and the spread over vehicles.
# data: row from the top, hours (missing where it is later than the limit), label, text, hours searched where it
# is later, position of the text. p10, p50, p90: spread of the first row in hours, where known.
if (!exists("data")) data = "playing.dat"
if (!exists("count")) count = 3
if (!exists("unit")) unit = "h"
set xlabel "playing time, ".unit
unset key
set tmargin at screen 1.0 - 3.6 * line_share
set lmargin at screen 0.26
set yrange [count - 0.4:-0.6]
set xrange [0:to]
set grid noytics xtics
set border 1
set ytics scale 0
set offsets 0, 0, 0, 0
if (exists("p50")) {
  # for the playing time only: a whisker on its bar, eight of ten between its ends, half beyond its middle; open to the
  # right where the end is beyond the limit
  if (p90_open) { set arrow 1 from p10, 0 to whisker, 0 head size screen 0.015, 25 filled linewidth 3 linecolor rgb orange front } \
  else { set arrow 1 from p10, 0 to whisker, 0 heads size screen 0.012, 90 linewidth 3 linecolor rgb orange front }
  if (p50 <= to) { set label 3 "" at p50, 0 point pointtype 7 pointsize 1.3 linecolor rgb red front }
  set label 1 spread_text at screen 0.5, 0.025 center front
  set bmargin 5.5
}
if (exists("wanted")) {
  set arrow 2 from wanted, graph 0 to wanted, graph 1 nohead linewidth 2 dashtype "." linecolor rgb black front
  set label 2 "wanted" at wanted, graph 1.03 center front
}
set style fill solid 0.6 border linecolor rgb black
plot data using 2:1:(0):2:($1 - 0.25):($1 + 0.25):ytic(3) with boxxyerror linecolor rgb blue, \
     data using 5:1:(0):5:($1 - 0.25):($1 + 0.25) with boxxyerror fillstyle empty border rgb grey linewidth 1.5 dashtype "-", \
     data using 6:1:4 with labels left offset 0.7, 0
