//! Content items of a structured report (PS3.3 C.17.3, C.18).

use dicom_core::{DataElement, PrimitiveValue, VR};
use dicom_dictionary_std::tags;
use dicom_object::InMemDicomObject;

use super::codes::Code;
use super::elements::{plain_dashes, sequence, text};
use crate::film::dicom::write::decimal_strings;
use crate::units::FilmPoint;

/// How an item stands to the one above it.
#[derive(Clone, Copy, Debug)]
pub enum Relation {
    Contains,
    HasObservationContext,
    HasConceptModifier,
    HasProperties,
    InferredFrom,
    SelectedFrom,
}

impl Relation {
    fn term(self) -> &'static str {
        match self {
            Relation::Contains => "CONTAINS",
            Relation::HasObservationContext => "HAS OBS CONTEXT",
            Relation::HasConceptModifier => "HAS CONCEPT MOD",
            Relation::HasProperties => "HAS PROPERTIES",
            Relation::InferredFrom => "INFERRED FROM",
            Relation::SelectedFrom => "SELECTED FROM",
        }
    }
}

/// A film as another object refers to it.
#[derive(Clone, Debug)]
pub struct FilmInstance {
    pub sop_class_uid: String,
    pub sop_instance_uid: String,
    pub study_instance_uid: String,
    pub series_instance_uid: String,
}

impl FilmInstance {
    /// The item of a Referenced SOP Sequence.
    pub fn reference(&self) -> InMemDicomObject {
        InMemDicomObject::from_element_iter([
            text(tags::REFERENCED_SOP_CLASS_UID, VR::UI, &self.sop_class_uid),
            text(
                tags::REFERENCED_SOP_INSTANCE_UID,
                VR::UI,
                &self.sop_instance_uid,
            ),
        ])
    }
}

/// One node of the content tree.
#[derive(Clone, Debug)]
pub struct Item {
    object: InMemDicomObject,
    children: Vec<Item>,
}

impl Item {
    fn new(relation: Option<Relation>, value_type: &str, concept: Option<&Code>) -> Self {
        let mut object = InMemDicomObject::new_empty();
        if let Some(relation) = relation {
            object.put(text(tags::RELATIONSHIP_TYPE, VR::CS, relation.term()));
        }
        object.put(text(tags::VALUE_TYPE, VR::CS, value_type));
        if let Some(concept) = concept {
            object.put(sequence(
                tags::CONCEPT_NAME_CODE_SEQUENCE,
                vec![concept.item()],
            ));
        }
        Self {
            object,
            children: Vec::new(),
        }
    }

    /// The root: a container that follows a template of PS3.16.
    pub fn root(concept: &Code, template: &str) -> Self {
        Self::new(None, "CONTAINER", Some(concept)).separate(Some(template))
    }

    /// A container.
    pub fn container(concept: &Code, template: Option<&str>) -> Self {
        Self::new(Some(Relation::Contains), "CONTAINER", Some(concept)).separate(template)
    }

    fn separate(mut self, template: Option<&str>) -> Self {
        self.object
            .put(text(tags::CONTINUITY_OF_CONTENT, VR::CS, "SEPARATE"));
        if let Some(template) = template {
            let identification = InMemDicomObject::from_element_iter([
                text(tags::MAPPING_RESOURCE, VR::CS, "DCMR"),
                text(tags::TEMPLATE_IDENTIFIER, VR::CS, template),
            ]);
            self.object.put(sequence(
                tags::CONTENT_TEMPLATE_SEQUENCE,
                vec![identification],
            ));
        }
        self
    }

    /// A coded value.
    pub fn code(relation: Relation, concept: &Code, value: &Code) -> Self {
        let mut item = Self::new(Some(relation), "CODE", Some(concept));
        item.object
            .put(sequence(tags::CONCEPT_CODE_SEQUENCE, vec![value.item()]));
        item
    }

    /// A text.
    pub fn text(relation: Relation, concept: &Code, value: &str) -> Self {
        let mut item = Self::new(Some(relation), "TEXT", Some(concept));
        item.object
            .put(text(tags::TEXT_VALUE, VR::UT, &plain_dashes(value)));
        item
    }

    /// A UID.
    pub fn uid(relation: Relation, concept: &Code, value: &str) -> Self {
        let mut item = Self::new(Some(relation), "UIDREF", Some(concept));
        item.object.put(text(tags::UID, VR::UI, value));
        item
    }

    /// A number with its unit; `None` where it is not finite.
    pub fn number(relation: Relation, concept: &Code, value: f64, unit: &Code) -> Option<Self> {
        let decimal = decimal_strings(&[value]).ok()?;
        let measured = InMemDicomObject::from_element_iter([
            text(tags::NUMERIC_VALUE, VR::DS, &decimal),
            // The decimal string holds 16 characters; this holds the number.
            DataElement::new(
                tags::FLOATING_POINT_VALUE,
                VR::FD,
                PrimitiveValue::from(value),
            ),
            sequence(tags::MEASUREMENT_UNITS_CODE_SEQUENCE, vec![unit.item()]),
        ]);
        let mut item = Self::new(Some(relation), "NUM", Some(concept));
        item.object
            .put(sequence(tags::MEASURED_VALUE_SEQUENCE, vec![measured]));
        Some(item)
    }

    /// The film itself.
    pub fn image(relation: Relation, film: &FilmInstance) -> Self {
        let mut item = Self::new(Some(relation), "IMAGE", None);
        item.object.put(sequence(
            tags::REFERENCED_SOP_SEQUENCE,
            vec![film.reference()],
        ));
        item
    }

    /// A line on the film. The frame is ours: column and row in px, (0, 0) the
    /// outer corner of the first pixel (PS3.3 C.18.6.1).
    pub fn polyline(concept: &Code, points: &[FilmPoint], film: &FilmInstance) -> Self {
        let data: Vec<f32> = points
            .iter()
            .flat_map(|p| [p.x as f32, p.y as f32])
            .collect();
        let mut item = Self::new(Some(Relation::InferredFrom), "SCOORD", Some(concept));
        item.object
            .put(text(tags::GRAPHIC_TYPE, VR::CS, "POLYLINE"));
        item.object.put(DataElement::new(
            tags::GRAPHIC_DATA,
            VR::FL,
            PrimitiveValue::F32(data.into()),
        ));
        item.with([Self::image(Relation::SelectedFrom, film)])
    }

    /// The same with more children.
    #[must_use]
    pub fn with(mut self, children: impl IntoIterator<Item = Item>) -> Self {
        self.children.extend(children);
        self
    }

    /// The data set of the item with everything below it.
    pub fn into_object(self) -> InMemDicomObject {
        let mut object = self.object;
        if !self.children.is_empty() {
            let children = self.children.into_iter().map(Item::into_object).collect();
            object.put(sequence(tags::CONTENT_SEQUENCE, children));
        }
        object
    }
}
