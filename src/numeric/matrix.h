/* Matrices of GSL whose making and taking apart cannot call GSL's error handler.
 *
 * GSL calls its handler, which by default ends the program, where memory runs out, a matrix is singular or an interval holds no root. A
 * library must neither rely on what its host did to that handler nor change it. So what could call it is done in this folder, memory
 * taken and arguments checked beforehand; elsewhere only functions that fail on nothing but wrong sizes are used
 * (tests/style/gsl.sh holds the list). */
#ifndef TV_NUMERIC_MATRIX_H
#define TV_NUMERIC_MATRIX_H

#include <gsl/gsl_matrix.h>
#include <gsl/gsl_vector.h>
#include <stdbool.h>

/* Zeros, in one block of memory; freed with gsl_matrix_free() and gsl_vector_free(), which take NULL. NULL: no memory. */
gsl_matrix *tv_matrix_new(size_t rows, size_t columns);
gsl_vector *tv_vector_new(size_t size);

/* A = L L', L in the lower triangle (Golub and Van Loan, Matrix Computations, algorithm 4.2.1), for gsl_linalg_cholesky_solve() and
 * the like. False: not positive definite, or not finite; `a` is spoilt then. */
bool tv_cholesky(gsl_matrix *a);

/* Solves A x = b in place of b for a few unknowns, A of n x n row by row; A is spoilt. Elimination with partial pivoting (Golub and Van
 * Loan, algorithm 3.4.1): no more than a multiplication or two a number, where GSL's calls would cost more than the sums. False:
 * singular. */
bool tv_solve(double *a, double *b, int n);

/* Eigenvalues, in no order, and vectors as columns (NULL: not wanted) of a symmetric matrix of at least one row, which is
 * spoilt. False: no memory, or a number that is not finite. */
bool tv_eigen(gsl_matrix *a, gsl_vector *values, gsl_matrix *vectors);

#endif
