# What all pictures share: paper, colours, line styles. Run before the script of a picture:
#
#   gnuplot -e "data='voltage.dat'; output='voltage.svg'" plots/common.gp plots/voltage.gp
#
# or let tailvolt write data and script in one file:   tailvolt plot record.csv --script voltage-all.gp
#
# output: its ending chooses svg, png or pdf; none = to standard output, as `format` says.
# Colours are those of Okabe and Ito, which most colour-blind people can tell apart; each line also has its own dash
# or label, so a grey copy reads the same.

if (!exists("width")) width = 900
if (!exists("height")) height = 540
if (exists("output")) format = output[strlen(output) - 2:*]
if (!exists("format")) format = "svg"
# a wider picture is the same, scaled up
scale = width / 900.0
letters(size) = sprintf(",%.1f", size * scale)
if (format eq "png") set terminal pngcairo noenhanced size width, height font "sans".letters(11) linewidth scale background "white"
if (format eq "pdf") set terminal pdfcairo noenhanced size width / 96.0, height / 96.0 font "sans".letters(9.5) linewidth 0.8 * scale
if (format eq "svg") set terminal svg noenhanced size width, height font "DejaVu Sans,Arial,sans-serif".letters(14) linewidth scale background "white"
if (exists("output")) set output output

set encoding utf8
set datafile missing "?"
black = 0x000000; grey = 0x666666; blue = 0x0072B2; red = 0xD55E00; green = 0x009E73; orange = 0xE69F00
sky = 0x56B4E9; purple = 0xCC79A7
set border 3 linecolor rgb grey
set tics nomirror out textcolor rgb black
set grid ytics linetype 1 linecolor rgb 0xDDDDDD linewidth 0.7
set key below horizontal samplen 3 spacing 1.1
set style fill solid 0.35 noborder
set lmargin 10
set rmargin 4
set ylabel offset 0.5, 0
if (!exists("title")) title = ""
if (!exists("title2")) title2 = ""
# letters in points; svg counts in pixels
pt(size) = letters(size * (format eq "svg" ? 1.33 : format eq "pdf" ? 0.85 : 1.0))
large = pt(14)
line_share = 23.0 * scale / height
set tmargin at screen 1.0 - (title2 eq "" ? 2.3 : 3.4) * line_share
set label 98 title at screen 0.5, 1.0 - 1.1 * line_share center font large
set label 99 title2 at screen 0.5, 1.0 - 2.2 * line_share center font large
