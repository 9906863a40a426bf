/* Everything a program that links libtailvolt sees. */
#ifndef TAILVOLT_TAILVOLT_H
#define TAILVOLT_TAILVOLT_H
#include "tailvolt/budget.h"
#include "tailvolt/certainty.h"
#include "tailvolt/drive.h"
#include "tailvolt/envelope.h"
#include "tailvolt/finding.h"
#include "tailvolt/log.h"
#include "tailvolt/match.h"
#include "tailvolt/measure.h"
#include "tailvolt/profile.h"
#include "tailvolt/quantity.h"
#include "tailvolt/questions.h"
#include "tailvolt/report.h"
#include "tailvolt/remedy.h"
#include "tailvolt/result.h"
#include "tailvolt/simulate.h"
#include "tailvolt/status.h"
#include "tailvolt/study.h"
#include "tailvolt/system.h"
#include "tailvolt/vary.h"
#include "tailvolt/version.h"
#endif
