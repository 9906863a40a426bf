# Playing time with the engine off: what ends it when, and the spread over vehicles.
# data: row from the top, hours, label, text at the bar's end. p10, p50, p90: spread in hours, where known.
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
  set object 1 rectangle from p10, graph 0 to p90, graph 1 fillstyle solid 0.18 noborder fillcolor rgb orange behind
  set arrow 1 from p50, graph 0 to p50, graph 1 nohead linewidth 2 dashtype "-" linecolor rgb red front
  set label 1 spread_text at screen 0.5, 0.025 center front
  set bmargin 5.5
}
if (exists("wanted")) {
  set arrow 2 from wanted, graph 0 to wanted, graph 1 nohead linewidth 2 dashtype "." linecolor rgb black front
  set label 2 "wanted" at wanted, graph 1.03 center front
}
set style fill solid 0.6 border linecolor rgb black
plot data using 2:1:(0):2:($1 - 0.25):($1 + 0.25):ytic(3) with boxxyerror linecolor rgb blue, \
     data using 2:1:4 with labels left offset 0.7, 0
