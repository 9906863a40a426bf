# A figure over a varied key.
# data: place on the axis, value, label of the place. categories: 1 where the places are names, 0 where they are numbers.
if (!exists("data")) data = "curve.dat"
if (!exists("categories")) categories = 0
if (exists("xlabel")) set xlabel xlabel
set autoscale xfix
set xzeroaxis linetype 1 linecolor rgb black linewidth 1
if (exists("ylabel")) set ylabel ylabel
set offsets graph 0.06, graph 0.10, graph 0.12, graph 0.08
unset key
# keep figures clear of the line
set style textbox opaque noborder margins 0.3, 0.2
if (exists("wanted_v")) {
  set arrow 1 from graph 0, first wanted_v to graph 1, first wanted_v nohead linewidth 2 dashtype "-" linecolor rgb red
  set label 1 "wanted" at graph 1, first wanted_v offset 0.5, 0
  set rmargin 9
}
if (categories) {
  plot data using 1:2:xtic(3) with linespoints linewidth 2 pointtype 7 pointsize 1.1 linecolor rgb blue, \
       data using 1:2:4 with labels offset 0, 1.3 boxed
} else {
  plot data using 1:2 with linespoints linewidth 2 pointtype 7 pointsize 1.1 linecolor rgb blue, \
       data using 1:2:4 with labels offset 0, 1.3 boxed
}
