# The envelope of a recording: power as a share of the amplifier's rated power.
# data: time, mean and highest share in %. mean_pct: over all.
if (!exists("data")) data = "envelope.dat"
if (!exists("time_unit")) time_unit = "s"
set xlabel "time, ".time_unit
set ylabel "power, % of the rated power"
set autoscale xfix
set yrange [0:*]
set offsets 0, 0, graph 0.06, 0
set bmargin 5.2
plot data using 1:(0):3 with filledcurves fillstyle solid 1.0 linecolor rgb 0xB5DCF3 title "loudest window", \
     data using 1:2 with lines linewidth 1.4 linecolor rgb blue title "mean", \
     data using 1:(mean_pct) with lines linewidth 2 dashtype "-" linecolor rgb red title "mean of all"
