package demo

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"math"
	"testing"

	"tossline/kernel/motion"
)

// serves models a few serves of every member, with their usual spread.
func serves(t *testing.T, visit func(m *member, s *serve)) {
	t.Helper()
	if testing.Short() {
		t.Skip("the model is looked at in small steps of time")
	}
	members := academy()
	for i := range members {
		m := &members[i]
		b := newBody(m.HeightM, m.racket)
		d := newDice(7, uint64(i), partPlans)
		for range 4 {
			p := m.draw(m.usual, plan{}, d)
			p.aim(Serve{CourtSide: "ad"}, m.Hand, d)
			visit(m, newServe(&b, &p))
		}
	}
}

// instants of a serve, 5 ms apart.
func instants(s *serve) (out []float64) {
	for t := 0.0; t <= s.times.end; t += 0.005 {
		out = append(out, t)
	}
	return out
}

func TestSegmentsKeepTheirLengths(t *testing.T) {
	serves(t, func(m *member, s *serve) {
		b := s.body
		bones := []struct {
			name   string
			a, b   int
			length float64
		}{
			{"left upper arm", leftShoulder, leftElbow, b.upperArm},
			{"right upper arm", rightShoulder, rightElbow, b.upperArm},
			{"left forearm", leftElbow, leftWrist, b.forearm}, {"right forearm", rightElbow, rightWrist, b.forearm},
			{"left thigh", leftHip, leftKnee, b.thigh}, {"right thigh", rightHip, rightKnee, b.thigh},
			{"left shank", leftKnee, leftAnkle, b.shank}, {"right shank", rightKnee, rightAnkle, b.shank},
			{"left foot", leftHeel, leftToe, b.foot}, {"right foot", rightHeel, rightToe, b.foot},
			{"hips", leftHip, rightHip, 2 * b.halfHips}, {"shoulders", leftShoulder, rightShoulder, 2 * b.halfShoulders},
			{"racket", racketGrip, racketTip, b.racket},
		}
		for _, at := range instants(s) {
			p := s.poseAt(at)
			for _, bone := range bones {
				if got := p.points[bone.a].sub(p.points[bone.b]).norm(); math.Abs(got-bone.length) > 1e-9 {
					t.Fatalf("%s at %.3f s: %s is %.6f m, want %.6f", m.Name, at, bone.name, got, bone.length)
				}
			}
		}
	})
}

// TestNothingJumps bounds how far any point moves in a millisecond: 0.06 m, 60 m/s, which only a discontinuity or a
// racket tip could exceed.
func TestNothingJumps(t *testing.T) {
	serves(t, func(m *member, s *serve) {
		before := s.poseAt(0)
		for at := 0.001; at < s.times.end; at += 0.001 {
			p := s.poseAt(at)
			for i := range p.points {
				if i == ball && at > s.times.contact-0.001 {
					continue
				}
				limit := 0.06
				if i < racketGrip {
					limit = 0.025
				}
				if d := p.points[i].sub(before.points[i]).norm(); d > limit {
					t.Fatalf("%s: %s moves %.3f m in the millisecond before %.3f s", m.Name, layout.Names()[i], d, at)
				}
			}
			before = p
		}
	})
}

func TestFlightIsFree(t *testing.T) {
	serves(t, func(m *member, s *serve) {
		const h = 0.004
		for at := s.times.takeoff + 2*h; at < s.times.landing-2*h; at += h {
			a, b, c := s.poseAt(at-h), s.poseAt(at), s.poseAt(at+h)
			g := a.centreOfMass().add(c.centreOfMass()).plus(-2, b.centreOfMass()).scale(1 / (h * h))
			if g.add(vec{0, gravity, 0}).norm() > 0.03 {
				t.Fatalf("%s: the centre of mass accelerates by %v at %.3f s", m.Name, g, at)
			}
			d := b.points[ball].sub(thrown(s.ballAtRelease, s.ballSpeed, at-s.times.release)).norm()
			if at < s.times.contact && d > 1e-9 {
				t.Fatalf("%s: the ball is %.2g m off its parabola", m.Name, d)
			}
		}
	})
}

func TestRacketMeetsBall(t *testing.T) {
	serves(t, func(m *member, s *serve) {
		p := s.poseAt(s.times.contact)
		if gap := p.points[ball].sub(p.face()).norm(); math.Abs(gap-ballRadius) > 1e-9 {
			t.Errorf("%s: the ball is %.4f m from the strings at contact", m.Name, gap)
		}
		if turned := angle(p.racket.y, s.plan.ballOff); turned > 12 {
			t.Errorf("%s: the face is %.1f degrees off the ball's way", m.Name, turned)
		}
		held := s.poseAt(s.times.release - 1e-6)
		if gap := held.points[ball].sub(s.ballAtRelease).norm(); gap > 1e-4 {
			t.Errorf("%s: the ball jumps by %.4f m at release", m.Name, gap)
		}
	})
}

func TestPlanIsReached(t *testing.T) {
	serves(t, func(m *member, s *serve) {
		truth := s.truth(0)
		for column, want := range map[string]float64{
			"front_knee_flexion_deg": s.plan.flexion, "contact_offset_m": s.plan.offset,
			"contact_forward_m": s.plan.forward, "drop_depth_m": s.plan.drop,
		} {
			tolerance := 1e-3
			if column == "front_knee_flexion_deg" {
				tolerance = 0.05
			}
			if got := truth.Measures[column]; math.Abs(got-want) > tolerance {
				t.Errorf("%s: %s is %.4f, planned %.4f", m.Name, column, got, want)
			}
		}
	})
}

// TestServesAreLikely holds the model against what is published of serves (Jacquier-Bret & Gorce 2024; Fleisig et
// al. 2003) and, where nothing is, against plain sense.
func TestServesAreLikely(t *testing.T) {
	type span struct{ low, high float64 }
	serves(t, func(m *member, s *serve) {
		truth := s.truth(0)
		e := truth.Events
		trophy, contact := s.poseAt(e[motion.Trophy]), s.poseAt(e[motion.Contact])
		upperArm := contact.points[rightElbow].sub(contact.points[rightShoulder])
		hipLine := trophy.points[rightHip].sub(trophy.points[leftHip])
		for name, c := range map[string]struct {
			got float64
			in  span
		}{
			"front knee flexion, deg (64.5 +- 9.7)":        {truth.Measures["front_knee_flexion_deg"], span{35, 90}},
			"trunk from vertical at trophy, deg (25 +- 7)": {angle(trophy.trunk.y, vec{0, 1, 0}), span{10, 35}},
			"elbow flexion at contact, deg (30 +- 16)": {kneeFlexion(&contact, rightShoulder, rightElbow, rightWrist),
				span{5, 50}},
			"upper arm from trunk at contact (101, 111 deg)": {180 - angle(upperArm, contact.trunk.y), span{90, 140}},
			"contact height over stature":                    {truth.Measures["contact_height_m"] / m.HeightM, span{1.4, 1.6}},
			"low point to contact, s":                        {e[motion.Contact] - e[motion.LowPoint], span{0.08, 0.16}},
			"trophy to low point, s":                         {e[motion.LowPoint] - e[motion.Trophy], span{0.12, 0.35}},
			"release to contact, s":                          {e[motion.Contact] - e[motion.Release], span{0.6, 1.1}},
			"takeoff to landing, s":                          {e[motion.Landing] - e[motion.Takeoff], span{0.2, 0.55}},
			"long-axis speed, deg/s (1370 to 2420)":          {truth.Measures["long_axis_speed_deg_s"], span{700, 3100}},
			"racket speed, m/s":                              {truth.Measures["racket_speed_m_s"], span{18, 46}},
			"separation at trophy, deg":                      {angle(trophy.trunk.z, hipLine), span{8, 40}},
		} {
			if c.got < c.in.low || c.got > c.in.high {
				t.Errorf("%s: %s is %.2f, want %.2f to %.2f", m.Name, name, c.got, c.in.low, c.in.high)
			}
		}
		order := []motion.EventKind{
			motion.Start, motion.Release, motion.Trophy, motion.LowPoint, motion.Contact, motion.Landing,
		}
		for i := 1; i < len(order); i++ {
			if e[order[i-1]] >= e[order[i]] {
				t.Errorf("%s: %s comes after %s", m.Name, order[i-1], order[i])
			}
		}
		if !(e[motion.Trophy] < e[motion.Takeoff] && e[motion.Takeoff] < e[motion.Contact]) {
			t.Errorf("%s: takeoff is not between trophy and contact: %v", m.Name, e)
		}
		for _, at := range instants(s) {
			p := s.poseAt(at)
			for _, foot := range []int{leftToe, rightToe, leftHeel, rightHeel} {
				if y := p.points[foot].Y; y < 0 {
					t.Fatalf("%s: %s is %.3f m under the court at %.3f s", m.Name, layout.Names()[foot], -y, at)
				}
			}
			if on := p.points[leftToe].Y; at < s.times.takeoff && on > 0.02 {
				t.Fatalf("%s: the front toe is %.3f m up at %.3f s, before takeoff at %.3f", m.Name, on, at, s.times.takeoff)
			}
		}
		if on := s.poseAt(s.times.landing).points[leftToe].Y; on > 0.02 {
			t.Errorf("%s: the front toe is %.3f m up at landing", m.Name, on)
		}
	})
}

func TestSincosAgreesWithTheLibrary(t *testing.T) {
	for a := -40.0; a < 40; a += 0.0137 {
		s, c := sincos(a)
		if math.Abs(s-math.Sin(a)) > 5e-15 || math.Abs(c-math.Cos(a)) > 5e-15 {
			t.Fatalf("sincos(%v) = %v, %v; want %v, %v", a, s, c, math.Sin(a), math.Cos(a))
		}
	}
}

// TestSeasonIsTheSameEverywhere compares the bytes of a few takes, and what is known of them, with those made on
// amd64. Compiled with GOAMD64=v3, where products and sums are fused, it gives the same.
func TestSeasonIsTheSameEverywhere(t *testing.T) {
	if testing.Short() {
		t.Skip("making takes only computes")
	}
	sum := sha256.New()
	for i, c := range schedule(DefaultSeed) {
		if i%23 != 0 {
			continue
		}
		take := c.make()
		binary.Write(sum, binary.LittleEndian, take.Frames)
		text, err := json.Marshal(take.Serves)
		if err != nil {
			t.Fatal(err)
		}
		sum.Write(text)
	}
	const want = "79a54e188b9b0baa155d32fa1c7848837ad04f99b3e9d0fb171148470e4c5e05"
	if got := hex.EncodeToString(sum.Sum(nil)); got != want {
		t.Errorf("the season's sum is %s, want %s: if the model was changed on purpose, put the new one here", got, want)
	}
}

func TestGenerateStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	n := 0
	err := Generate(ctx, DefaultSeed, func(Take) error {
		n++
		cancel()
		return nil
	})
	if err != context.Canceled || n != 1 {
		t.Errorf("after the cancel: %d takes, error %v", n, err)
	}
}
