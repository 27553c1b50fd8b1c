#include "report/pdf/finish.hpp"

#include <fmt/format.h>
#include <kainjow/mustache.hpp>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFWriter.hh>

#include <inkwane/error.hpp>

#include "colour/icc.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

std::string xml(const std::string& text) {
  return kainjow::mustache::html_escape(text);
}

/// XMP (ISO 16684-1) with PDF/A's own entries (ISO 19005-2, clause 6.6.4); what stands in the
/// document's information dictionary as well says the same there (clause 6.6.3).
std::string metadata(const Document& document, const std::string& producer) {
  const auto in_language = [](const std::string& name, const std::string& text) {
    return fmt::format(
        "   <{0}><rdf:Alt><rdf:li xml:lang=\"x-default\">{1}</rdf:li></rdf:Alt></{0}>\n", name,
        xml(text));
  };
  std::string text =
      "<?xpacket begin=\"\xEF\xBB\xBF\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n"
      "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\">\n"
      " <rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n"
      "  <rdf:Description rdf:about=\"\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\" "
      "xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\" xmlns:pdf=\"http://ns.adobe.com/pdf/1.3/\" "
      "xmlns:pdfaid=\"http://www.aiim.org/pdfa/ns/id/\">\n"
      "   <pdfaid:part>2</pdfaid:part>\n   <pdfaid:conformance>B</pdfaid:conformance>\n"
      "   <dc:format>application/pdf</dc:format>\n";
  text += in_language("dc:title", document.title);
  if (!document.subject.empty()) text += in_language("dc:description", document.subject);
  if (!document.author.empty())
    text += fmt::format("   <dc:creator><rdf:Seq><rdf:li>{}</rdf:li></rdf:Seq></dc:creator>\n",
                        xml(document.author));
  if (!document.identifier.empty())
    text += fmt::format("   <dc:identifier>{}</dc:identifier>\n", xml(document.identifier));
  text += fmt::format("   <xmp:CreatorTool>inkwane {}</xmp:CreatorTool>\n", xml(document.version));
  text += fmt::format("   <pdf:Producer>{}</pdf:Producer>\n", xml(producer));
  return text + "  </rdf:Description>\n </rdf:RDF>\n</x:xmpmeta>\n<?xpacket end=\"w\"?>\n";
}

void add_metadata(QPDF& pdf, const Document& document) {
  const std::string producer = "Cairo, Pango, qpdf";
  QPDFObjectHandle xmp = QPDFObjectHandle::newStream(&pdf, metadata(document, producer));
  xmp.getDict().replaceKey("/Type", QPDFObjectHandle::newName("/Metadata"));
  xmp.getDict().replaceKey("/Subtype", QPDFObjectHandle::newName("/XML"));
  pdf.getRoot().replaceKey("/Metadata", pdf.makeIndirectObject(xmp));

  QPDFObjectHandle info = QPDFObjectHandle::newDictionary();
  const auto put = [&](const char* key, const std::string& text) {
    if (!text.empty()) info.replaceKey(key, QPDFObjectHandle::newUnicodeString(text));
  };
  put("/Title", document.title);
  put("/Author", document.author);
  put("/Subject", document.subject);
  put("/Creator", "inkwane " + document.version);
  put("/Producer", producer);
  pdf.getTrailer().replaceKey("/Info", pdf.makeIndirectObject(info));
}

/// ISO 19005-2, clause 6.2.3: what device RGB means in this file.
void add_output_intent(QPDF& pdf) {
  const auto& profile = colour::srgb_profile();
  QPDFObjectHandle icc =
      QPDFObjectHandle::newStream(&pdf, std::string(profile.begin(), profile.end()));
  icc.getDict().replaceKey("/N", QPDFObjectHandle::newInteger(3));
  QPDFObjectHandle intent = QPDFObjectHandle::newDictionary();
  intent.replaceKey("/Type", QPDFObjectHandle::newName("/OutputIntent"));
  intent.replaceKey("/S", QPDFObjectHandle::newName("/GTS_PDFA1"));
  intent.replaceKey("/OutputConditionIdentifier", QPDFObjectHandle::newString("sRGB IEC61966-2.1"));
  intent.replaceKey("/Info", QPDFObjectHandle::newString("sRGB IEC61966-2.1"));
  intent.replaceKey("/DestOutputProfile", pdf.makeIndirectObject(icc));
  QPDFObjectHandle intents = QPDFObjectHandle::newArray();
  intents.appendItem(intent);
  pdf.getRoot().replaceKey("/OutputIntents", intents);
}

/// ISO 19005-2, clause 6.2.8.1: no pixels that a reader would make up.
void forbid_interpolation(QPDF& pdf) {
  for (QPDFObjectHandle object : pdf.getAllObjects())
    if (object.isStream() && object.getDict().hasKey("/Interpolate"))
      object.getDict().removeKey("/Interpolate");
}

/// ISO 19005-2, clause 6.2.11.3.2: TrueType fonts of many glyphs say outright how these are found.
void name_glyph_maps(QPDF& pdf) {
  for (QPDFObjectHandle object : pdf.getAllObjects()) {
    if (object.isDictionaryOfType("/Font", "/CIDFontType2") && !object.hasKey("/CIDToGIDMap"))
      object.replaceKey("/CIDToGIDMap", QPDFObjectHandle::newName("/Identity"));
  }
}

}  // namespace

std::string finished(const std::string& bytes, const Document& document) {
  try {
    QPDF pdf;
    pdf.processMemoryFile("report", bytes.data(), bytes.size());
    add_metadata(pdf, document);
    add_output_intent(pdf);
    forbid_interpolation(pdf);
    name_glyph_maps(pdf);
    pdf.getRoot().replaceKey("/Lang", QPDFObjectHandle::newString(say("common.language")));
    QPDFObjectHandle view = QPDFObjectHandle::newDictionary();
    view.replaceKey("/DisplayDocTitle", QPDFObjectHandle::newBool(true));
    pdf.getRoot().replaceKey("/ViewerPreferences", view);
    QPDFWriter writer(pdf);
    writer.setOutputMemory();
    writer.setDeterministicID(true);
    writer.setMinimumPDFVersion("1.7");
    // Cairo packed its streams; what was added stays to be read as it is.
    writer.setDecodeLevel(qpdf_dl_none);
    writer.setCompressStreams(false);
    writer.write();
    const auto buffer = writer.getBufferSharedPointer();
    return {reinterpret_cast<const char*>(buffer->getBuffer()), buffer->getSize()};
  } catch (const std::exception& error) {
    throw Error(
        ExitCode::output,
        fmt::format("report.pdf could not be finished ({}); please report this.", error.what()));
  }
}

}  // namespace inkwane::report
