// Package stats carries numbers of serves to a decision: how large, how sure, against what noise.
//
// Every function takes a [Sample], one measure over serves, made of a column of a table by [Of] or of plain numbers by
// [Values]. NaN is a missing value and is left out. What comes back holds an [Estimate] or several: a value with its
// 95 % interval, the number of serves that it rests on, its unit, and a sentence. A step of a recipe may return any of
// them.
//
//	player := stats.Of(contacts.Where("player", settings.Player), "contact_offset_m")
//	reference := stats.Of(contacts.Where("player", settings.Reference), "contact_offset_m")
//	return stats.Welch(player, reference)
//
// # What to ask
//
//	how large, how spread     Describe, Sample.Mean, Sample.MeanOfSessions, Bootstrap
//	two groups                Welch, Paired, HedgesG, Permute; where curves part: CompareCurves, PairedCurves
//	what is noise             NoiseOf, RetestOf, AgreementOf, ICC
//	did it change             ChangeOf, SessionTrend, TrendOf, ShiftsOf
//	do two measures go along  Within, Mixed, PermuteWithin; of one player: Correlation, Regress, RobustRegress
//	how many more             SessionsNeeded, ServesNeeded, Power
//	many questions at once    Holm, BenjaminiHochberg
//
// # Too little data
//
// Where there are too few serves, players or sessions, or all values are alike, the estimate says so in its Lack, and
// in its sentence how many more would do; Value, Low and High are then NaN, and missing on the page. A value without an
// interval is possible: one serve has a mean.
//
// # Stand-ins
//
// A value computed from a stand-in (the hand in place of the racket) is never mixed with the real thing: [Of] leaves
// stand-ins out where there are others, and a sample of stand-ins alone is compared with its like only.
//
// # Chance
//
// What draws random numbers does so from a fixed seed: the same data give the same answer.
package stats
