# The sag ledger as a waterfall: from the rest voltage down to the worst moment, part by part.
# data: row from the top, voltage before, voltage after, label; the first row is the rest voltage, the last what is left.
# from_v: left edge; count: rows.
if (!exists("data")) data = "ledger.dat"
if (!exists("count")) count = 10
set xlabel "voltage, V"
unset key
set lmargin at screen 0.30
set yrange [count - 0.4:-0.6]
set grid noytics xtics
set border 1
set ytics scale 0
set offsets 0, 0, 0, 0
if (exists("from_v")) set xrange [from_v:to_v]
set style fill solid 0.75 border linecolor rgb black
low(a, b) = a < b ? a : b
high(a, b) = a > b ? a : b
end = count - 1
plot data using 2:0:(from_v):2:($0 - 0.28):($0 + 0.28):ytic(4) every ::0::0 with boxxyerror linecolor rgb 0x999999, \
     data using 3:($0 + end):(from_v):3:($0 + end - 0.28):($0 + end + 0.28):ytic(4) every ::end::end with boxxyerror linecolor rgb 0x999999, \
     data using 2:($1):(low($2, $3)):(high($2, $3)):($1 - 0.28):($1 + 0.28):($3 > $2 ? green : int($6) == 1 ? red : orange):ytic(4) every ::1::end - 1 with boxxyerror linecolor rgb variable, \
     data using (high($2, $3)):1:5 with labels left offset 0.7, 0 notitle
