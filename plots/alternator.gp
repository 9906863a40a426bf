# The alternator's curve over engine speed, and where the run used it.
# data: two blocks: engine speed and greatest output; then engine speed and output asked for.
if (!exists("data")) data = "alternator.dat"
if (!exists("points")) points = 0
if (!exists("curve")) curve = 1
set xlabel "engine speed, rpm"
set bmargin 5.2
set ylabel "current, A"
set xrange [0:*]
set yrange [0:*]
set offsets 0, graph 0.02, graph 0.08, 0
if (exists("idle_rpm")) {
  set arrow 1 from idle_rpm, graph 0 to idle_rpm, first idle_a nohead linewidth 1.5 dashtype "." linecolor rgb black
  set label 1 idle_text at idle_rpm, idle_a point pointtype 7 pointsize 1.2 linecolor rgb black offset 1.2, -0.9
}
if (curve && points) {
  plot data index 0 using 1:2 with lines linewidth 2.5 linecolor rgb blue title "the most it can give, warm", \
       data index 1 using 1:2 with points pointtype 6 pointsize 0.7 linecolor rgb red title "asked of it in the run"
}
if (curve && !points) {
  plot data index 0 using 1:2 with lines linewidth 2.5 linecolor rgb blue title "the most it can give, warm"
}
if (!curve) {
  plot data index 0 using 1:2 with points pointtype 6 pointsize 0.7 linecolor rgb red title "asked of it in the run"
}
