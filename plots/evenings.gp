# Charge over several evenings with the engine off, each until it ends.
# data: one block per evening (two blank lines between): a line with its name, then time and charge in %.
if (!exists("data")) data = "evenings.dat"
if (!exists("unit")) unit = "h"
if (!exists("count")) count = 2
array colour[6] = [blue, red, green, purple, orange, black]
set style textbox opaque noborder margins 0.4, 0.2
set xlabel "playing time, ".unit
set ylabel "charge of the battery that feeds the music, %"
set xrange [0:*]
set yrange [0:100]
set bmargin 4.2 + 1.3 * ((count + 1) / 2)
set key below maxrows ((count + 1) / 2) reverse Left
plot for [k = 0:count - 1] data index k using 1:2 with lines linewidth 2.4 dashtype k % 5 + 1 linecolor rgb colour[k % 6 + 1] title columnheader(1)
