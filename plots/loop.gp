# The loop: battery, feed, amplifier, return as one strip, each part's volts beneath.
# data: left, right, lower and upper edge of a box, volts, kind (0 part, 1 worst, 2 amplifier or battery), name in three
# lines, volts as text, how many of the lines are used.
if (!exists("data")) data = "loop.dat"
unset border
unset tics
unset grid
unset key
set lmargin 1
set rmargin 1
set xrange [-0.02:1.02]
set yrange [-0.12:1.05]
set style fill solid 1.0 border linecolor rgb black
mid(a, b) = (a + b) / 2.0
shade(k) = k == 1 ? 0xF6C3A5 : k == 2 ? 0xDDDDDD : 0xF4F4F4
set arrow 1 from 0.013, 0.80 to 0.987, 0.80 nohead linewidth 4 linecolor rgb grey back
set arrow 2 from 0.985, 0.80 to 0.985, 0.20 nohead linewidth 4 linecolor rgb grey back
set arrow 3 from 0.987, 0.20 to 0.013, 0.20 nohead linewidth 4 linecolor rgb grey back
set arrow 4 from 0.015, 0.20 to 0.015, 0.80 nohead linewidth 4 linecolor rgb grey back
set label 1 "feed: current goes out to the amplifier" at 0.5, 1.02 center textcolor rgb grey
set label 2 "return: the same current comes back through the ground side" at 0.5, -0.09 center textcolor rgb grey
plot data using (mid($1, $2)):(mid($3, $4)):1:2:3:4:(shade($6)) with boxxyerror linecolor rgb variable, \
     data using (mid($1, $2)):(mid($3, $4) + 0.026 * ($11 - 1)):7 with labels center font pt(11), \
     data using (mid($1, $2)):(mid($3, $4) + 0.026 * ($11 - 3)):8 with labels center font pt(11), \
     data using (mid($1, $2)):(mid($3, $4) + 0.026 * ($11 - 5)):9 with labels center font pt(11), \
     data using (mid($1, $2)):($3 - 0.04):10 with labels center font pt(13)
