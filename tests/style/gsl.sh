#!/bin/sh
# GSL's error handler ends the program unless the host says otherwise. Outside src/numeric only functions that call it for nothing but
# wrong sizes are used: those listed here.
cd "$(dirname "$0")/../.."
allowed='gsl_(matrix_(get|set|ptr|free|memcpy|row|const_row|const_column|set_row|set_zero|set_identity|submatrix|view_array|const_view_array)
|vector_(get|set|ptr|free|memcpy|add|sub|scale|min|set_zero|view_array|const_view_array)
|blas_d(dot|axpy|gemv|symv|ger|gemm)|linalg_cholesky_(solve|svx|invert)
|sort|stats_(median|quantile_from_sorted_data)|fit_linear|cdf_ugaussian_Pinv|qrng_get)'
allowed=$(printf '%s' "$allowed" | tr -d '\n')
found=$(grep -noE '\bgsl_[a-z0-9_A-Z]+ *\(' $(find src -name '*.[ch]' -o -name '*.inc' | grep -v '^src/numeric/' | sort) /dev/null |
  grep -vE ":$allowed *\\($")
[ -z "$found" ] || { echo "$found"; echo "may call GSL's error handler: belongs into src/numeric"; exit 1; }
set -- $(grep -rlE '\bgsl_[a-z0-9_A-Z]+ *\(' src | sort)
[ $# -gt 10 ] || { echo "only $# files that use GSL were found"; exit 1; }
echo "GSL: $# files use it, outside src/numeric only what cannot fail"
