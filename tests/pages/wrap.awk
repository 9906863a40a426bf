# Puts a page into a frame of a given width and adds a script that checks it: what overflows, and the contrast of all text.
# awk -v width=360 -f wrap.awk page.html >wrapped.html
BEGIN {
  printf "<!DOCTYPE html><meta charset=\"utf-8\"><title>check</title><pre id=\"seen\"></pre>"
  printf "<iframe id=\"frame\" style=\"border:0;width:%dpx;height:900px\" srcdoc=\"", width
}
{
  gsub(/&/, "\\&amp;")
  gsub(/"/, "\\&quot;")
  print
}
END {
  print "\"></iframe>"
  print "<script>"
  print "onload = () => {"
  print "  const seen = [], page = document.getElementById('frame').contentDocument, root = page.documentElement"
  print "  seen.push('width ' + root.clientWidth + ' needs ' + root.scrollWidth)"
  print "  for (const one of page.querySelectorAll('body *')) {"
  print "    const box = one.getBoundingClientRect()"
  print "    if (box.width > 0 && (box.right > root.clientWidth + 0.5 || box.left < -0.5) && !one.closest('.wide'))"
  print "      seen.push('overflow ' + one.tagName + ' ' + one.textContent.slice(0, 40).trim())"
  print "  }"
  print "  const light = c => { const f = c.map(v => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4); return 0.2126 * f[0] + 0.7152 * f[1] + 0.0722 * f[2] }"
  print "  const rgba = t => { const n = t.match(/[\\d.]+/g).map(Number); return n.length < 4 ? [...n, 1] : n }"
  print "  let texts = 0, least = 99"
  print "  const walker = page.createTreeWalker(page.body, NodeFilter.SHOW_TEXT)"
  print "  while (walker.nextNode()) {"
  print "    const one = walker.currentNode.parentElement"
  print "    if (walker.currentNode.textContent.trim() === '') continue"
  print "    const style = getComputedStyle(one), ink = rgba(one.ownerSVGElement ? style.fill : style.color)"
  print "    let paper = [255, 255, 255, 1]"
  print "    for (let up = one; up; up = up.parentElement) {"
  print "      const back = rgba(getComputedStyle(up).backgroundColor)"
  print "      if (back[3] > 0) { paper = back; break }"
  print "    }"
  print "    const a = light(ink.slice(0, 3)), b = light(paper.slice(0, 3)), contrast = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05)"
  print "    texts++"
  print "    least = Math.min(least, contrast)"
  print "    if (contrast < 4.5) seen.push('contrast ' + contrast.toFixed(2) + ' of ' + walker.currentNode.textContent.trim().slice(0, 40))"
  print "    if (parseFloat(style.fontSize) * (one.ownerSVGElement ? one.ownerSVGElement.getScreenCTM().a : 1) < 8.5)"
  print "      seen.push('small ' + style.fontSize + ' ' + walker.currentNode.textContent.trim().slice(0, 40))"
  print "  }"
  print "  seen.push('texts ' + texts + ' least contrast ' + least.toFixed(2))"
  print "  document.getElementById('seen').textContent = seen.join('\\n')"
  print "}"
  print "</script>"
}
