# State of charge over a drive or an evening.
# data: a line of names, then time and one column per battery. count: batteries.
if (!exists("data")) data = "charge.dat"
if (!exists("time_unit")) time_unit = "h"
if (!exists("count")) count = 1
if (count == 1) { unset key }
array colour[4] = [blue, red, green, purple]
set xlabel "time, ".time_unit
set autoscale xfix
set lmargin 11.5
set bmargin 5.2
set ylabel "state of charge, %"
set offsets 0, 0, graph 0.1, graph 0.1
plot for [k = 1:count] data using 1:(column(k + 1)) with lines linewidth 2 dashtype k linecolor rgb colour[(k - 1) % 4 + 1] title columnheader(k + 1)
