# One beat magnified: half a second around the worst moment.
# data: time from the worst moment in ms, lowest, mean and highest voltage, wanted voltage, then mean currents: amplifier (mean
# and highest), alternator, batteries and capacitors (giving positive).
if (!exists("data")) data = "beat.dat"
if (!exists("amplifier")) amplifier = "amplifier"
if (!exists("capacitors")) capacitors = 0
if (!exists("alternators")) alternators = 1
set multiplot
set size 1, 0.54
set origin 0, 0.46
set bmargin 1.5
set key at graph 0.99, graph 0.06 bottom right vertical opaque samplen 3 box linecolor rgb 0xBBBBBB
set ylabel "voltage at ".amplifier.", V"
set xrange [-250:250]
set format x ""
set arrow 1 from 0, graph 0 to 0, graph 1 nohead dashtype 3 linecolor rgb grey
set offsets 0, 0, 0.1, 0.1
plot data using 1:2:4 with filledcurves linecolor rgb sky title "lowest to highest", \
     data using 1:3 with lines linewidth 2 linecolor rgb blue title "mean", \
     data using 1:5 with lines linewidth 2 dashtype "-" linecolor rgb red title "wanted"
set size 1, 0.46
set origin 0, 0
set bmargin capacitors > 0 ? 6.8 : 5.2
set tmargin 0.8
unset label 98
unset label 99
set key below horizontal nobox noopaque
set format x "% g"
set ylabel "current, A"
set xlabel "time from the worst moment, ms"
set offsets 0, 0, 2, 2
set xzeroaxis linetype 1 linecolor rgb black
if (capacitors > 0) {
  plot data using 1:6 with lines linewidth 2.2 linecolor rgb black title amplifier." takes", \
       data using 1:8 with lines linewidth 2 dashtype "-" linecolor rgb blue title "alternator gives", \
       data using 1:9 with lines linewidth 2 dashtype "-." linecolor rgb red title "battery gives", \
       data using 1:10 with lines linewidth 2 dashtype "." linecolor rgb green title "capacitor gives"
} else {
  plot data using 1:6 with lines linewidth 2.2 linecolor rgb black title amplifier." takes", \
       data using 1:8 with lines linewidth 2 dashtype "-" linecolor rgb blue title "alternator gives", \
       data using 1:9 with lines linewidth 2 dashtype "-." linecolor rgb red title "battery gives"
}
unset multiplot
