# Voltage at an amplifier over time.
# data: time, lowest, mean, highest voltage, wanted voltage. Several rows of a record may be merged here: the
# lowest is then the lowest of all.
# worst_time, worst_v, worst_text: the point to mark; time_unit: s, min or h.
if (!exists("data")) data = "voltage.dat"
if (!exists("time_unit")) time_unit = "s"
if (!exists("amplifier")) amplifier = "amplifier"
set xlabel "time, ".time_unit
set autoscale xfix
set bmargin 5.2
set ylabel "voltage at ".amplifier.", V"
set offsets 0, 0, 0.15, 0.25
if (exists("worst_text")) {
  set label 1 worst_text at worst_time, worst_v point pointtype 6 pointsize 1.6 linecolor rgb red linewidth 2 offset worst_side * 1.2, -0.9 textcolor rgb black
  if (worst_side < 0) { set label 1 right }
}
plot data using 1:2:4 with filledcurves linecolor rgb sky title "lowest to highest", \
     data using 1:3 with lines linewidth 1.6 linecolor rgb blue title "mean", \
     data using 1:2 with lines linewidth 0.7 linecolor rgb blue notitle, \
     data using 1:5 with lines linewidth 2 dashtype "-" linecolor rgb red title "wanted"
