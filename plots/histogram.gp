# How long the amplifier sees which voltage.
# data: middle of a bin, share of the time in %. wanted_v: target; low_v: 1 % of the time lies below it.
if (!exists("data")) data = "histogram.dat"
if (!exists("amplifier")) amplifier = "amplifier"
if (!exists("class_v")) class_v = 0.1
set xlabel "voltage at ".amplifier.", V"
set ylabel "share of the time, %"
set boxwidth class_v * 0.92
set yrange [0:]
set offsets graph 0.02, graph 0.02, graph 0.14, 0
unset key
if (exists("wanted_v")) {
  set arrow 1 from wanted_v, graph 0 to wanted_v, graph 0.97 nohead linewidth 2 dashtype "-" linecolor rgb red front
  set label 1 "wanted ".sprintf("%.1f", wanted_v)." V" at wanted_v, graph 0.97 offset 0.6, 0 front
}
if (exists("low_v")) {
  set arrow 2 from low_v, graph 0 to low_v, graph 0.88 nohead linewidth 2 dashtype "." linecolor rgb black front
  set label 2 "1 % below ".sprintf("%.2f", low_v)." V" at low_v, graph 0.88 offset 0.6, 0 front
}
plot data using 1:2 with boxes fillstyle solid 0.5 linecolor rgb blue notitle
