# A figure over two varied keys, one field per combination; each shows its figure, and a cross where it falls short.
# data: column, row, value, label of the column, label of the row, figure as text.
if (!exists("data")) data = "heat.dat"
if (!exists("columns")) columns = 2
if (!exists("rows")) rows = 2
if (exists("xlabel")) set xlabel xlabel
if (exists("ylabel")) set ylabel ylabel
if (!exists("zlabel")) zlabel = ""
unset key
unset grid
set border 15
set tics scale 0
set style fill solid 1.0
set xrange [-0.5:columns - 0.5]
set yrange [-0.5:rows - 0.5]
set rmargin 14
set lmargin 14
set cblabel zlabel offset 1, 0
# dark for little, light for much, and even in grey (a cut of the cividis scale)
set palette defined (0 "#3B496C", 0.35 "#7C7B78", 0.7 "#BCAF6F", 1 "#FDE737")
dark(z) = z < low + 0.45 * (high - low) ? 0xFFFFFF : 0x000000
plot data using 1:2:3:xtic(4):ytic(5) with image pixels, \
     data using 1:2:6:(dark($3)) with labels font pt(12) textcolor rgb variable
