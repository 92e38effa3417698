//! The profile of an edge over values: flats, the gap at a place, and where a zone along the edge ends.

use std::rc::Rc;

use super::arithmetic::unknown;
use super::eval::Evaluator;
use super::finding::Reason;
use super::named::What;
use super::value::{Evidence, Num, Val};
use crate::expression::Function;
use crate::geometry::{self, EdgeProfile, EdgeStation, End, Flat, GeometryProblem, Shim};
use crate::quantity::Exact;
use crate::record::{
    EdgeReadings, Item, Profile, Reading, Series, ShimReading, StationReading, With,
};
use crate::uncertainty::{Distribution, PartKind, Uncertain};
use crate::vocabulary::{Measure, MeasureId};

/// What a profile belongs to.
type Owner<'r> = (&'r Profile, &'r Series, &'r Item, MeasureId);

impl<'r> Evaluator<'r> {
    /// `flat_length`, `forward_flat`, `aft_flat`.
    pub(super) fn flat(&mut self, function: Function, profile: Val<'r>, gap: &Exact) -> Val<'r> {
        let Val::Profile(profile, series, item, slot) = profile else {
            return unknown(Reason::NotMeasured);
        };
        let of = (profile, series, item, slot);
        let Some((flat, template)) = self.flat_of(of, gap) else {
            return unknown(Reason::NotMeasured);
        };
        let flat = match flat {
            Ok(flat) => flat,
            Err(problem) => return self.refused(problem, item.part, slot, profile.span),
        };
        let value = match function {
            Function::ForwardFlat => flat.forward,
            Function::AftFlat => flat.aft,
            Function::FlatLength
            | Function::GapAt
            | Function::CrownRadius
            | Function::Hollow
            | Function::Abs
            | Function::Min
            | Function::Max
            | Function::Lowest
            | Function::Highest
            | Function::Straightness
            | Function::IncludedAngle
            | Function::BevelDifference
            | Function::Stiffness
            | Function::DeflectionAt
            | Function::Area
            | Function::ConvertedHardness { .. }
            | Function::At20Degrees { .. } => flat.total,
        };
        let mut found = template.with(value);
        found.note = flat.note.map(Rc::from);
        Val::from(found)
    }

    fn flat_of(
        &mut self,
        of: Owner<'r>,
        gap: &Exact,
    ) -> Option<(Result<Flat, GeometryProblem>, Num)> {
        let (profile, _, _, _) = of;
        match &profile.edge {
            EdgeReadings::Shims(shims) => {
                let (shims, template) = self.leaves(of, shims)?;
                let contact = profile.contact.as_ref().and_then(|contact| {
                    let evidence = template.evidence;
                    self.scale_of_contact(of, contact, evidence)
                });
                let flat = geometry::flat_from_shims(&shims, contact.as_ref(), gap);
                Some((flat, template))
            }
            EdgeReadings::Stations(stations) => {
                let (edge, template) = self.edge(of, stations)?;
                let sources = self.left_open(of).zip(self.left_open(of));
                let sources = sources.map(|(forward, aft)| [forward, aft]);
                let flat = edge.and_then(|edge| edge.flat(gap, sources));
                Some((flat, template))
            }
        }
    }

    /// How far the edge stands over the straight edge at a place.
    pub(super) fn gap_at(&mut self, profile: Val<'r>, x: &Exact) -> Val<'r> {
        let Val::Profile(profile, series, item, slot) = profile else {
            return unknown(Reason::NotMeasured);
        };
        let of = (profile, series, item, slot);
        let found = match &profile.edge {
            EdgeReadings::Shims(shims) => self.leaves(of, shims).map(|(shims, template)| {
                let source = self.left_open(of);
                let found = geometry::gap_from_shims(&shims, x, source);
                (found.map(|leaf| (leaf.gap, leaf.note)), template)
            }),
            EdgeReadings::Stations(stations) => self.edge(of, stations).map(|(edge, template)| {
                let source = self.left_open(of);
                let found = edge.and_then(|edge| {
                    let gap = edge.gap_at(x, source)?;
                    let notes = edge.notices();
                    Ok((gap, (!notes.is_empty()).then(|| notes.join("; "))))
                });
                (found, template)
            }),
        };
        match found {
            None => unknown(Reason::NotMeasured),
            Some((Err(problem), _)) => self.refused(problem, item.part, slot, profile.span),
            Some((Ok((gap, note)), template)) => {
                let mut num = template.with(gap);
                let written = match &profile.edge {
                    EdgeReadings::Shims(shims) => shims.first().map(|one| &one.gap),
                    EdgeReadings::Stations(stations) => stations.first().map(|one| &one.gap),
                };
                num.unit = written.map(|gap| gap.unit);
                num.decimals = None;
                num.note = note.map(Rc::from);
                Val::from(num)
            }
        }
    }

    /// The crown radius of an edge.
    pub(super) fn crown_radius(&mut self, profile: Val<'r>) -> Val<'r> {
        let Val::Profile(profile, series, item, slot) = profile else {
            return unknown(Reason::NotMeasured);
        };
        let of = (profile, series, item, slot);
        let found = match &profile.edge {
            EdgeReadings::Shims(shims) => self
                .leaves(of, shims)
                .map(|(shims, template)| (geometry::crown_radius_from_shims(&shims), template)),
            EdgeReadings::Stations(stations) => self.edge(of, stations).map(|(edge, template)| {
                let source = self.left_open(of);
                (edge.and_then(|edge| edge.crown_radius(source)), template)
            }),
        };
        match found {
            None => unknown(Reason::NotMeasured),
            Some((Err(problem), _)) => self.refused(problem, item.part, slot, profile.span),
            Some((Ok(crown), template)) => {
                let mut num = template.with(crown.radius);
                num.decimals = None;
                num.note = crown.note.map(Rc::from);
                Val::from(num)
            }
        }
    }

    /// The depth of the deepest concave place of an edge.
    pub(super) fn hollow(&mut self, profile: Val<'r>) -> Val<'r> {
        let Val::Profile(profile, series, item, slot) = profile else {
            return unknown(Reason::NotMeasured);
        };
        let of = (profile, series, item, slot);
        let found = match &profile.edge {
            EdgeReadings::Shims(_) => {
                return self.refused(geometry::no_stations(), item.part, slot, profile.span);
            }
            EdgeReadings::Stations(stations) => self
                .edge(of, stations)
                .map(|(edge, template)| (edge.map(|edge| edge.hollow()), template, stations)),
        };
        match found {
            None => unknown(Reason::NotMeasured),
            Some((Err(problem), _, _)) => self.refused(problem, item.part, slot, profile.span),
            Some((Ok(hollow), template, stations)) => {
                let mut num = template.with(hollow.depth);
                num.unit = stations.first().map(|one| one.gap.unit);
                num.decimals = None;
                num.note = Some(Rc::from(hollow.notices.join("; ")));
                Val::from(num)
            }
        }
    }

    /// Where the edge first stands `height` over the straight edge toward the toe; `None` where the profile
    /// does not tell it.
    pub(super) fn risen_to(&mut self, profile: Val<'r>, height: &Exact) -> Option<Num> {
        let Val::Profile(profile, series, item, slot) = profile else {
            return None;
        };
        let of = (profile, series, item, slot);
        match &profile.edge {
            EdgeReadings::Stations(stations) => {
                let (edge, template) = self.edge(of, stations)?;
                let source = self.left_open(of);
                let found = edge.ok()?.crossing(End::Forward, height, source).ok()?;
                Some(template.with(found))
            }
            EdgeReadings::Shims(shims) => {
                let (shims, template) = self.leaves(of, shims)?;
                Some(template.with(geometry::reach_of_shims(&shims, height)?))
            }
        }
    }

    /// The identity of what chords leave open; none for readings that are exact by declaration.
    fn left_open(&mut self, of: Owner<'r>) -> Option<u32> {
        let (_, series, item, slot) = of;
        match series.with {
            With::Exact => return None,
            With::Unnamed | With::Instrument(_) => {}
        }
        let id = self.readings.identities.take();
        let part = self.rules.vocabulary.part(item.part);
        if let Some(measure) = part.and_then(|part| part.measures.get(slot.index())) {
            let what = What::role(item, measure, "");
            let (kind, law) = (PartKind::Resolution, Distribution::Rectangular);
            let words = "what the distance between readings leaves open";
            self.readings.keep_computed(kind, id, &what, words, law);
            let words = "where the straight edge touches, between readings beside the pivot";
            self.readings
                .keep_computed(PartKind::Condition, id, &what, words, law);
        }
        Some(id)
    }

    fn scale_of_contact(
        &mut self,
        of: Owner<'r>,
        contact: &Reading,
        evidence: Evidence,
    ) -> Option<Uncertain> {
        let (_, series, item, _) = of;
        let (measure, _) = self.read_by(of)?;
        let what = What::role(item, measure, "contact");
        let num = self.readings.scale_reading(series, what, contact, evidence);
        Some(num.value)
    }

    fn read_by(&mut self, of: Owner<'r>) -> Option<(&'r Measure, Evidence)> {
        let (_, series, item, slot) = of;
        let part = self.rules.vocabulary.part(item.part)?;
        let measure = part.measures.get(slot.index())?;
        Some((
            measure,
            self.readings.evidence(series, (item, slot), measure),
        ))
    }

    /// Shims as numbers, with the number that a length made of them is shown like.
    fn leaves(&mut self, of: Owner<'r>, shims: &'r [ShimReading]) -> Option<(Vec<Shim>, Num)> {
        let (profile, series, item, _) = of;
        let (measure, evidence) = self.read_by(of)?;
        let mut found = Vec::with_capacity(shims.len());
        let mut template = None;
        let what = |role| What::role(item, measure, role);
        for shim in shims {
            let mean = self.readings.identities.take();
            let leaf = self
                .readings
                .single((series, mean), what("leaf"), &shim.gap, evidence);
            let forward = self.readings.scale_reading(
                series,
                what("forward reading"),
                &shim.forward,
                evidence,
            );
            let aft = self
                .readings
                .scale_reading(series, what("aft reading"), &shim.aft, evidence);
            let shown = Num {
                span: profile.span,
                ..forward.clone()
            };
            template.get_or_insert(shown);
            found.push(Shim {
                gap: leaf.value,
                forward: forward.value,
                aft: aft.value,
            });
        }
        Some((found, template?))
    }

    /// Stations as an edge against its straight edge, with the number that a length made of it is shown like.
    fn edge(
        &mut self,
        of: Owner<'r>,
        stations: &'r [StationReading],
    ) -> Option<(Result<EdgeProfile, GeometryProblem>, Num)> {
        let (profile, series, item, _) = of;
        let (measure, evidence) = self.read_by(of)?;
        let mut read = Vec::with_capacity(stations.len());
        let mut template = None;
        for station in stations {
            let what = What::role(item, measure, "station");
            let at = self
                .readings
                .scale_reading(series, what, &station.at, evidence);
            let mean = self.readings.identities.take();
            let what = What::role(item, measure, "gap").at(&station.at);
            let gap = self
                .readings
                .single((series, mean), what, &station.gap, evidence);
            // A crossing falls between stations: it is known finer than they are written.
            template.get_or_insert(Num {
                span: profile.span,
                decimals: None,
                ..at.clone()
            });
            read.push(EdgeStation {
                at: at.value,
                gap: gap.value,
            });
        }
        Some((EdgeProfile::new(&read), template?))
    }
}
