package measure

import "fmt"

// Pressure is in pascals, a float: it comes from physics and handbook ranges, not from a rule.
type Pressure float64

// PSI and KPa make pressures of table figures.
func PSI(p float64) Pressure { return Pressure(p * 6894.757293168) }

// KPa makes a pressure of kilopascals.
func KPa(p float64) Pressure { return Pressure(p * 1000) }

// PSI is the pressure in pounds-force per square inch.
func (p Pressure) PSI() float64 { return float64(p) / 6894.757293168 }

// KPa is the pressure in kilopascals.
func (p Pressure) KPa() float64 { return float64(p) / 1000 }

// FormatPressure writes whole psi or kPa.
func FormatPressure(p Pressure, u Units) string {
	if u.System == Metric {
		return fmt.Sprintf("%.0f kPa", p.KPa())
	}
	return fmt.Sprintf("%.0f psi", p.PSI())
}

// Force is in newtons, a float for the same reason.
type Force float64

const newtonsPerPound = 4.4482216152605

// Lbf makes a force of pounds.
func Lbf(f float64) Force { return Force(f * newtonsPerPound) }

// Lbf is the force in pounds.
func (f Force) Lbf() float64 { return float64(f) / newtonsPerPound }

// Times is the force a pressure makes on an area.
func (p Pressure) Times(a Area) Force { return Force(float64(p) * a.SquareMetres()) }

// FormatForce writes whole pounds or newtons.
func FormatForce(f Force, u Units) string {
	if u.System == Metric {
		return fmt.Sprintf("%.0f N", float64(f))
	}
	return fmt.Sprintf("%.0f lbf", f.Lbf())
}

const gramsPerPound = 453.59237

// Mass is in grams, a float.
type Mass float64

// Pounds is the mass in pounds avoirdupois.
func (m Mass) Pounds() float64 { return float64(m) / gramsPerPound }

// FormatMass writes grams and kilograms, or ounces and pounds.
func FormatMass(m Mass, u Units) string {
	if u.System == Metric {
		if m < 1000 {
			return fmt.Sprintf("%.0f g", float64(m))
		}
		return fmt.Sprintf("%.2f kg", float64(m)/1000)
	}
	if m.Pounds() < 1 {
		return fmt.Sprintf("%.1f oz", m.Pounds()*16)
	}
	return fmt.Sprintf("%.2f lb", m.Pounds())
}
