# A figure over a varied key, one curve for each value of the others.
# data: one block per curve (two blank lines between): place on the axis, value, label of the place, name of the curve.
if (!exists("data")) data = "family.dat"
if (!exists("categories")) categories = 0
if (!exists("count")) count = 2
if (exists("xlabel")) set xlabel xlabel
set autoscale xfix
set xzeroaxis linetype 1 linecolor rgb black linewidth 1
if (exists("ylabel")) set ylabel ylabel
if (!exists("keys")) keys = ""
array colour[6] = [blue, red, green, purple, orange, black]
set offsets graph 0.04, graph 0.06, graph 0.08, graph 0.08
set key outside right top vertical reverse Left samplen 4 title keys left width -1
set rmargin -1
if (exists("wanted_v")) {
  set arrow 1 from graph 0, first wanted_v to graph 1, first wanted_v nohead linewidth 2 dashtype "-" linecolor rgb grey
  set label 1 "wanted" at graph 1, first wanted_v offset 0.5, 0
}
if (categories) {
  plot for [k = 0:count - 1] data index k using 1:2:xtic(3) with linespoints linewidth 2 dashtype k % 5 + 1 pointtype 4 + 2 * (k % 6) pointsize 1.2 linecolor rgb colour[k % 6 + 1] title columnheader(1)
} else {
  plot for [k = 0:count - 1] data index k using 1:2 with linespoints linewidth 2 dashtype k % 5 + 1 pointtype 4 + 2 * (k % 6) pointsize 1.2 linecolor rgb colour[k % 6 + 1] title columnheader(1)
}
