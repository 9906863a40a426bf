# Several records on one axis: the lowest voltage of each, or charge.
# data: one block per record (two blank lines between): a line with its name, then time, figure, wanted voltage.
if (!exists("data")) data = "overlay.dat"
if (!exists("time_unit")) time_unit = "s"
if (!exists("count")) count = 2
if (!exists("charge")) charge = 0
array colour[6] = [blue, red, green, purple, orange, black]
set xlabel "time, ".time_unit
set autoscale xfix
set lmargin 11.5
set ylabel charge ? "state of charge, %" : "lowest voltage at the amplifier, V"
set offsets 0, 0, graph 0.05, graph 0.05
set bmargin 4.2 + 1.3 * ((count + 2) / 2)
set key below maxrows ((count + 2) / 2) reverse Left
if (charge) {
  plot for [k = 0:count - 1] data index k using 1:2 with lines linewidth 2 dashtype k % 5 + 1 linecolor rgb colour[k % 6 + 1] title columnheader(1)
} else {
  plot for [k = 0:count - 1] data index k using 1:2 with lines linewidth k == 0 ? 1.8 : 1.4 dashtype k % 5 + 1 linecolor rgb colour[k % 6 + 1] title columnheader(1), \
       data index 0 using 1:3 with lines linewidth 2 dashtype "-" linecolor rgb grey title "wanted"
}
