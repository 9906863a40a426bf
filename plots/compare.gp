# Sag of several results, part by part beside each other.
# data: row from the top, name of the part, then volts and their text, once for each result. name1, name2 ...: the results.
if (!exists("data")) data = "compare.dat"
if (!exists("count")) count = 2
if (!exists("rows")) rows = 4
array colour[6] = [blue, red, green, purple, orange, black]
names(k) = k == 1 ? name1 : k == 2 ? name2 : k == 3 ? name3 : k == 4 ? name4 : k == 5 ? name5 : name6
set xlabel "volts lost at the worst moment"
set lmargin at screen 0.28
set yrange [rows - 0.4:-0.6]
set xrange [0:to_v]
set grid noytics xtics
set border 1
set ytics scale 0
set bmargin 4.2 + 1.4 * count
set key below vertical maxrows count reverse Left
half = 0.36 / count
middle(row, k) = row - 0.36 + half * (2 * k - 1)
shade(k) = k == 1 ? 0.85 : k == 2 ? 0.30 : 0.55
plot data using 3:1:(0):3:($1 - 0.001):($1 + 0.001):ytic(2) with boxxyerror linecolor rgb colour[1] notitle, \
     for [k = 1:count] data using (column(1 + 2 * k)):(middle($1, k)):(0):(column(1 + 2 * k)):(middle($1, k) - 0.9 * half):(middle($1, k) + 0.9 * half) with boxxyerror fillcolor rgb colour[k] fillstyle solid shade(k) border rgb colour[k] title names(k), \
     for [k = 1:count] data using (column(1 + 2 * k)):(middle($1, k)):(stringcolumn(2 + 2 * k)) with labels left offset 0.5, 0 font pt(9) notitle
