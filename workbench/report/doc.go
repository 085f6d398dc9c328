// Package report writes the page that a coach acts on: one printable sheet about one player, made of what a recipe
// looked at. Its words are made from numbers by the rules below, and by nothing else.
//
// # Questions
//
// Of every measure that the recipe's results hold, two questions are asked: did it change, and does it differ from the
// reference's? The first compares the serves that the recipe marked "before" and "after" in a column block, or else the
// first half of the player's sessions with the second ([stats.ChangeOf]). The second compares the means of sessions
// where both players have three or more, else single serves ([stats.Welch]), and the page says which.
//
// # Findings
//
//  1. A finding has evidence: its 95 % interval excludes zero, and its chance, adjusted for all questions of the page
//     (Holm 1979), is at most 0.05.
//  2. A finding counts: it is at least as large as the noise, which is the player's typical error (what a serve of one
//     session differs by without anything having changed), or what a good marker system adds ([motion.Measure].Noise)
//     where that is larger.
//  3. There are three at most. The clearest change of the player's own comes first; the other places go to what is
//     largest against the noise, one to a part of the serve as far as there are several. A measure has one place, in
//     metres or as a part of height.
//  4. A finding is told by number, interval, counts and picture. It says more or less, never better or worse.
//
// What has no evidence is listed as not shown; what has evidence but doesn't count, as small; what there was no room
// for, as further; what could not be asked, as lacking. Nothing is left unsaid.
//
// # What to work on
//
// A change is put to player and coach as a question: was it meant? A difference names the way to the reference, which
// is a choice and no norm. If the finding goes, serve by serve within the player's sessions, with something that a
// player does on purpose ([Handles]), the strongest such tie is named with its interval, where it is shown among all
// that were tried, its correlation is 0.3 or more, and a noise of it goes with a tenth of the finding or more; and that
// it proves nothing until it is tried.
//
// # The next check
//
// For each finding: the measure, the change that counts (the noise), and how many new sessions of the usual size would
// show it with a chance of 80 % ([stats.SessionsNeeded]). Where those are more than three, the page also names the
// larger change that three would show.
//
// # Cautions
//
// The short form of the program's cautions stands on every page; others are added where the data call for them: a
// player who is or may be under 18, a reference of another age or size, serves missing, stand-ins left out, single
// serves compared. Nothing is said about injury, health or risk.
package report
