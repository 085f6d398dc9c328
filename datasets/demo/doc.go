// Package demo makes the season of an invented academy, Harbour Lane, with about a thousand serves by eight invented
// players, and knows the truth about each of them.
//
// Every serve is made by a forward model of the body: joint angles and the pelvis follow smooth curves between the
// events of a serve; segment lengths follow from stature; the centre of mass flies freely from takeoff to landing;
// the ball leaves the tossing hand, flies under gravity and meets the strings at contact. The model solves for front
// knee flexion, the place of contact and the depth of the racket's drop, so that these are known exactly; all other
// measures are computed from the model without noise, by formulas of this package that share nothing with the
// program's own measures. What is recorded from it is given the noise and the gaps of optical motion capture.
//
// # What there is to find
//
//   - Tuva Brandt meets the ball farther and farther outside from February to September.
//   - Oskar Lind bends the front leg more after a block of leg work in May and June.
//   - Noor Salim changes nothing; her sessions differ by chance alone.
//   - Within each player, a serve met farther outside has the slower long-axis rotation: 310 deg/s for each 0.1 m.
//     Between players it is the other way round, because the older and faster ones meet the ball farther outside.
//   - The juniors jump less, rotate slower and are less steady than the adults.
//
// # The same everywhere
//
// A seed gives the same season, byte for byte, on every machine: see vector.go.
package demo
