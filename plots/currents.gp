# Who gives the current: alternator, battery, capacitor stacked on each other; below zero what the battery takes.
# data: time, alternator, battery giving, capacitor giving, battery and capacitor taking (negative), mean draw of the amplifiers.
if (!exists("data")) data = "currents.dat"
if (!exists("time_unit")) time_unit = "s"
if (!exists("capacitors")) capacitors = 0
set xlabel "time, ".time_unit
set autoscale xfix
set bmargin 5.2
set key samplen 2 width -2
if (capacitors > 0) { set bmargin 6.8 }
set ylabel "current, A"
set xzeroaxis linetype 1 linecolor rgb black linewidth 1
set offsets 0, 0, 1, 1
if (capacitors > 0) {
  plot data using 1:(0):2 with filledcurves fillstyle solid 0.35 linecolor rgb blue title "alternator", \
       data using 1:2:($2 + $3) with filledcurves fillstyle pattern 4 linecolor rgb orange title "battery gives", \
       data using 1:2 with lines linewidth 0.8 linecolor rgb blue notitle, \
       data using 1:($2 + $3) with lines linewidth 0.8 linecolor rgb orange notitle, \
       data using 1:($2 + $3):($2 + $3 + $4) with filledcurves fillstyle pattern 2 linecolor rgb green title "capacitor gives", \
       data using 1:(0):5 with filledcurves fillstyle pattern 5 linecolor rgb grey title "charging", \
       data using 1:6 with lines linewidth 2 dashtype "-" linecolor rgb black title "amplifiers take"
} else {
  plot data using 1:(0):2 with filledcurves fillstyle solid 0.35 linecolor rgb blue title "alternator", \
       data using 1:2:($2 + $3) with filledcurves fillstyle pattern 4 linecolor rgb orange title "battery gives", \
       data using 1:2 with lines linewidth 0.8 linecolor rgb blue notitle, \
       data using 1:($2 + $3) with lines linewidth 0.8 linecolor rgb orange notitle, \
       data using 1:(0):5 with filledcurves fillstyle pattern 5 linecolor rgb grey title "battery takes", \
       data using 1:6 with lines linewidth 2 dashtype "-" linecolor rgb black title "amplifiers take"
}
