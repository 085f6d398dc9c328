package command

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"strings"
)

// c3dFile is a C3D file to be written, by "The C3D File Format: A Technical User Guide" (Motion Lab Systems).
type c3dFile struct {
	figure
	labels    []string
	processor byte    // 84 Intel, 85 DEC, 86 MIPS
	scale     float64 // below 0 where numbers are stored as reals
	first     int
	mask      byte // of the cameras that see each point
	residual  byte // in steps of scale

	channels int
	perFrame int
	sample   func(i, channel int) int

	parameters []c3dParameter
	before     int // empty blocks in front of the parameters
	between    int // empty blocks in front of the data
	start      [2]byte
	header     func(c3dFile, []byte) // changes the header at last
}

// c3dParameter is one parameter; values are a string, strings, ints or floats.
type c3dParameter struct {
	group, name string
	values      any
}

func (c c3dFile) order() binary.ByteOrder {
	if c.processor == 86 {
		return binary.BigEndian
	}
	return binary.LittleEndian
}

func (c c3dFile) put16(b []byte, v int) []byte {
	return append(b, c.bytesOf(uint64(uint16(v)), 2)...)
}

func (c c3dFile) bytesOf(v uint64, n int) []byte {
	b := make([]byte, 8)
	if n == 2 {
		c.order().PutUint16(b, uint16(v))
	} else {
		c.order().PutUint32(b, uint32(v))
	}
	return b[:n]
}

// putReal writes a real: that of a VAX is four times as large by its bits, with its words exchanged.
func (c c3dFile) putReal(b []byte, v float64) []byte {
	if c.processor != 85 {
		return append(b, c.bytesOf(uint64(math.Float32bits(float32(v))), 4)...)
	}
	bits := uint64(math.Float32bits(float32(4 * v)))
	return append(b, c.bytesOf(bits<<16&0xffff0000|bits>>16, 4)...)
}

func (c c3dFile) put(b []byte, v, step float64) []byte {
	if c.scale < 0 {
		return c.putReal(b, v)
	}
	return c.put16(b, int(math.Round(v/step)))
}

// bytes is the file.
func (c c3dFile) bytes() []byte {
	if c.first == 0 {
		c.first = 1
	}
	if c.processor == 0 {
		c.processor = 84
	}
	if c.mask == 0 {
		c.mask = 3
	}
	section := c.section(0)
	dataBlock := 2 + c.before + len(section)/512 + c.between
	section = c.section(dataBlock)
	b := c.headBlock(dataBlock)
	b = append(b, make([]byte, 512*c.before)...)
	b = append(b, section...)
	b = append(b, make([]byte, 512*c.between)...)
	for i, frame := range c.frames {
		for _, p := range frame {
			if p[0] != p[0] {
				b = c.put(c.put(c.put(b, 0, 1), 0, 1), 0, 1)
				b = c.put(b, -1, 1)
				continue
			}
			for _, v := range p {
				b = c.put(b, v, c.scale)
			}
			b = c.put(b, float64(int(c.mask)<<8|int(c.residual)), 1)
		}
		for s := range c.perFrame {
			for k := range c.channels {
				b = c.put(b, float64(c.sample(i*c.perFrame+s, k)), 1)
			}
		}
	}
	return append(b, make([]byte, (512-len(b)%512)%512)...)
}

func (c c3dFile) headBlock(dataBlock int) []byte {
	b := []byte{byte(2 + c.before), 0x50}
	for _, v := range []int{len(c.labels), c.channels * c.perFrame, c.first, min(65535, c.first+len(c.frames)-1), 10} {
		b = c.put16(b, v)
	}
	b = c.putReal(b, c.scale)
	b = c.put16(b, dataBlock)
	b = c.put16(b, c.perFrame)
	b = c.putReal(b, c.rate)
	b = append(b, make([]byte, 512-len(b))...)
	if c.header != nil {
		c.header(c, b)
	}
	return b
}

// section is the parameter section: the usual parameters, then those of the file, which win.
func (c c3dFile) section(dataBlock int) []byte {
	all := []c3dParameter{
		{"POINT", "USED", []int{len(c.labels)}}, {"POINT", "FRAMES", []int{min(65535, len(c.frames))}},
		{"POINT", "DATA_START", []int{dataBlock}}, {"POINT", "SCALE", []float64{c.scale}},
		{"POINT", "RATE", []float64{c.rate}}, {"POINT", "LABELS", c.labels[:min(255, len(c.labels))]},
		{"ANALOG", "USED", []int{c.channels}}, {"ANALOG", "RATE", []float64{c.rate * float64(c.perFrame)}},
	}
	for _, p := range c.parameters {
		replaced := false
		for i := range all {
			if all[i].group == p.group && all[i].name == p.name {
				all[i], replaced = p, true
			}
		}
		if !replaced {
			all = append(all, p)
		}
	}
	b := append(c.start[:], 0, c.processor)
	ids := map[string]int{}
	for _, p := range all {
		if p.values == nil {
			continue // left out
		}
		id := ids[p.group]
		if id == 0 {
			id = len(ids) + 1
			ids[p.group] = id
			b = append(b, byte(len(p.group)), byte(-id))
			b = append(b, p.group...)
			b = append(c.put16(b, 3), 0)
		}
		body := c.body(p.values)
		b = append(b, byte(len(p.name)), byte(id))
		b = append(b, p.name...)
		b = append(c.put16(b, 2+len(body)+1), body...)
		b = append(b, 0)
	}
	b = append(b, 0, 0)
	b = append(b, make([]byte, (512-len(b)%512)%512)...)
	b[2] = byte(len(b) / 512)
	return b
}

// body is the type, the dimensions and the values of a parameter.
func (c c3dFile) body(values any) (b []byte) {
	switch v := values.(type) {
	case string:
		b = append([]byte{0xff, 1, byte(len(v))}, v...)
	case []string:
		width := 0
		for _, s := range v {
			width = max(width, len(s))
		}
		b = []byte{0xff, 2, byte(width), byte(len(v))}
		for _, s := range v {
			b = append(b, s+strings.Repeat(" ", width-len(s))...)
		}
	case []int:
		b = []byte{2, byte(min(1, len(v)-1))}
		if len(v) > 1 {
			b = append(b, byte(len(v)))
		}
		for _, n := range v {
			b = c.put16(b, n)
		}
	case []float64:
		b = []byte{4, byte(min(1, len(v)-1))}
		if len(v) > 1 {
			b = append(b, byte(len(v)))
		}
		for _, x := range v {
			b = c.putReal(b, x)
		}
	default:
		panic(fmt.Sprint("no value of C3D: ", values))
	}
	return b
}

// lab is a figure as a laboratory records it: millimetres, z up, the serve along -y.
func lab(f figure) figure { return f.turned("-z-xy", 1000) }

func c3dFixtures() []fixture {
	units := func(u string) []c3dParameter { return []c3dParameter{{"POINT", "UNITS", u}} }
	screen := []c3dParameter{{"POINT", "UNITS", "mm  "}, {"POINT", "X_SCREEN", "+X"}, {"POINT", "Y_SCREEN", "+Z"}}
	plain := func(frames int) c3dFile {
		return c3dFile{figure: lab(standing(frames).only(few)), labels: pick(labMarkers(""), few), scale: 0.1,
			parameters: units("mm")}
	}
	with := func(c c3dFile, change func(*c3dFile)) func() []byte {
		change(&c)
		return c.bytes
	}
	extra := func(c *c3dFile, group, name string, values any) {
		c.parameters = append(c.parameters, c3dParameter{group, name, values})
	}
	of := func(name, about string, bytes func() []byte, args ...string) fixture {
		return fixture{name: "c3d/" + name + ".c3d", about: about, bytes: bytes, args: args}
	}
	many := func(frames, points int) (figure, []string) {
		f, labels := figure{rate: 100}, []string(nil)
		for k := range points {
			labels = append(labels, fmt.Sprintf("M%03d", k+1))
		}
		copy(labels, labMarkers(""))
		body := lab(standing(1)).frames[0]
		for i := range frames {
			frame := make([][3]float64, points)
			for k := range frame {
				frame[k] = body[k%len(body)]
				frame[k][0] += float64(i) * 0.25
			}
			f.frames = append(f.frames, frame)
		}
		return f, labels
	}
	return []fixture{
		of("serve", "a whole serve, Intel integers, z up by Y_SCREEN, force and muscle channels at 200 Hz, an event with "+
			"its "+
			"side, the subject in front of every label, labels filled with blanks",
			with(c3dFile{figure: lab(serveFigure()), labels: labMarkers("S07:"), scale: 0.1, parameters: screen, residual: 4},
				func(c *c3dFile) {
					c.channels, c.perFrame = 2, 4
					c.sample = func(i, k int) int { return 2048*(1-k) + (i*37+k*11)%200 }
					for _, p := range []c3dParameter{{"ANALOG", "LABELS", []string{"Force.Fz1", "EMG3     "}},
						{"ANALOG", "UNITS", []string{"N", "V"}}, {"ANALOG", "OFFSET", []int{2048, 0}},
						{"ANALOG", "SCALE", []float64{0.5, 0.001}}, {"ANALOG", "GEN_SCALE", []float64{1}},
						{"EVENT", "USED", []int{1}}, {"EVENT", "LABELS", []string{"Impact          "}},
						{"EVENT", "CONTEXTS", []string{"Right"}}, {"EVENT", "TIMES", []float64{0, 1.9}},
						{"SUBJECTS", "USED", []int{1}}, {"SUBJECTS", "NAMES", []string{"S07   "}}} {
						c.parameters = append(c.parameters, p)
					}
				})),
		of("intel-real", "Intel reals, metres, first frame 101, a point missing by residual -1", with(c3dFile{
			figure: standing(10).only(few).turned("x-zy", 1).without(4, 2, 9), labels: pick(labMarkers(""), few),
			scale: -0.0001, first: 101,
			parameters: units("m"), mask: 127}, func(*c3dFile) {})),
		of("dec-integer", "DEC integers, the parameters behind three empty blocks, the section not begun with 1 and 80",
			with(plain(10), func(c *c3dFile) { c.processor, c.before, c.start = 85, 3, [2]byte{0, 0} })),
		of("dec-real", "DEC reals, empty blocks in front of the data", with(plain(10), func(c *c3dFile) {
			c.processor, c.scale, c.between, c.start = 85, -0.1, 2, [2]byte{1, 80}
		})),
		of("mips-integer", "MIPS integers, centimetres, unsigned 16-bit channels with the offset 32768", with(c3dFile{
			figure: lab(standing(10).only(few)).turned("xyz", 0.1), labels: pick(labMarkers(""), few), scale: 0.01,
			parameters: units("cm"),
			processor:  86, channels: 1, perFrame: 2, sample: func(i, _ int) int { return 32768 + 100*i }},
			func(c *c3dFile) {
				extra(c, "ANALOG", "FORMAT", "UNSIGNED")
				extra(c, "ANALOG", "LABELS", []string{"Trigger"})
				extra(c, "ANALOG", "OFFSET", []int{-32768})
				extra(c, "ANALOG", "SCALE", []float64{0.01})
				extra(c, "ANALOG", "GEN_SCALE", []float64{1})
			})),
		of("mips-real", "MIPS reals, inches, lower-case labels with separators", with(c3dFile{
			figure: standing(10).only(few).turned("xyz", 1/0.0254), scale: -0.01, parameters: units("in"), processor: 86,
			labels: []string{"head", "l_shoulder", "r_shoulder", "l_wrist", "r_wrist", "l_hip", "r_hip", "l_ankle", "r_ankle"}},
			func(*c3dFile) {})),
		{name: "c3d/long.c3d", about: "66,000 frames: the header says 65,535, TRIAL:ACTUAL_END_FIELD the rest", large: true,
			bytes: func() []byte {
				c := plain(1)
				c.figure, c.labels = many(66_000, 15)
				extra(&c, "TRIAL", "ACTUAL_START_FIELD", []int{1, 0})
				extra(&c, "TRIAL", "ACTUAL_END_FIELD", []int{66_000 & 0xffff, 66_000 >> 16})
				return c.bytes()
			}},
		{name: "c3d/long-real.c3d", about: "66,000 frames by POINT:LONG_FRAMES alone", large: true,
			bytes: func() []byte {
				c := plain(1)
				c.figure, c.labels = many(66_000, 15)
				extra(&c, "POINT", "LONG_FRAMES", []float64{66_000})
				return c.bytes()
			}},
		of("labels2", "300 points, the labels of the last 45 in LABELS2", with(plain(1), func(c *c3dFile) {
			c.figure, c.labels = many(1, 300)
			extra(c, "POINT", "LABELS2", c.labels[255:])
		})),
		of("no-units", "nothing said of units or axes", with(plain(10), func(c *c3dFile) { c.parameters = nil })),
		of("wrong-units", "says metres and has millimetres", with(plain(10), func(c *c3dFile) {
			c.parameters = units("m")
		})),
		of("wrong-axis", "says that y points up, and z does", with(plain(10), func(c *c3dFile) {
			extra(c, "POINT", "Y_SCREEN", "+Y")
		})),
		of("no-rate", "the rate is 0", with(plain(10), func(c *c3dFile) {
			extra(c, "POINT", "RATE", []float64{0})
			c.header = func(c c3dFile, b []byte) { clear(b[20:24]) }
		})),
		of("two-subjects", "two players in one take, each with the whole marker set", with(plain(12), func(c *c3dFile) {
			c.labels = append(pick(labMarkers("Server:"), few), pick(labMarkers("Returner:"), few)...)
			for i, frame := range c.frames {
				for _, p := range frame[:9] {
					c.frames[i] = append(c.frames[i], [3]float64{p[0] + 900, p[1] - 9000, p[2]})
				}
			}
		})),
		of("modelled", "a model's angles among the points, as ANGLES lists them, and points without a name", with(plain(10),
			func(c *c3dFile) {
				c.labels = append(c.labels, "RKneeAngles", "*10", "*11")
				for i := range c.frames {
					c.frames[i] = append(c.frames[i], [3]float64{float64(i), 2, 1}, [3]float64{10, 20, 1500}, [3]float64{0, 0, 0})
				}
				extra(c, "POINT", "ANGLES", []string{"RKneeAngles"})
				extra(c, "POINT", "ANGLE_UNITS", "deg")
			})),
		of("header-only-counts", "POINT:FRAMES and POINT:USED are left out; the header has them", with(plain(10),
			func(c *c3dFile) { extra(c, "POINT", "FRAMES", nil); extra(c, "POINT", "USED", nil) })),
		of("real-counts", "counts and places stored as reals", with(plain(10), func(c *c3dFile) {
			extra(c, "POINT", "FRAMES", []float64{10})
			extra(c, "POINT", "USED", []float64{9})
		})),
		of("cut", "cut off in the middle of a frame", func() []byte {
			b := plain(10).bytes()
			return b[:len(b)-700]
		}),
		of("no-frames", "a skeleton of a file: the last frame is 0", with(plain(0), func(*c3dFile) {})),
		of("analog-only", "channels and no points", with(plain(10), func(c *c3dFile) {
			c.labels = nil
			for i := range c.frames {
				c.frames[i] = nil
			}
			c.channels, c.perFrame, c.sample = 1, 2, func(i, _ int) int { return i }
		})),
		of("damaged-parameters", "the way from one parameter to the next is wrong", func() []byte {
			b := plain(10).bytes()
			at := bytes.Index(b, []byte("SCALE"))
			b[at+len("SCALE")] = 0x05 // how far it is to the next
			return b
		}),
		of("all-invalid", "every residual is -1, as some exporters write that know no residuals", func() []byte {
			b := plain(10).bytes()
			data := 512 * (int(b[16]) - 1)
			for i := range 10 * 9 {
				b[data+8*i+6], b[data+8*i+7] = 0xff, 0xff
			}
			return b
		}),
		of("wild-marker", "one point leaps 50 m away for two frames, two others change places", with(plain(30),
			func(c *c3dFile) {
				c.figure = c.mapped(func(frame, k int, p [3]float64) [3]float64 {
					if k == 4 && (frame == 12 || frame == 13) {
						p[0] = -3000
					}
					return p
				})
				for i := 20; i < 30; i++ {
					c.frames[i][7], c.frames[i][8] = c.frames[i][8], c.frames[i][7]
				}
			})),
	}
}
